// Straight moves, arcs and probe moves.
#include <fmt/format.h>

#include <cmath>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

constexpr std::string_view axis_letters = "XYZ";
constexpr std::string_view offset_letters = "IJK";
constexpr double farthest = 1e6;  // mm
// mm, half the third decimal and half the fourth of an inch at most: what a radius lacks by
// rounding.
constexpr double told_radius = 0.0013;

std::size_t slot(Group g) { return static_cast<std::size_t>(g); }

}  // namespace

int Interpreter::normal_axis() const { return axes_of(plane_).normal; }

// End point of the line's axis words, setup frame.
Vec3 Interpreter::target(const Block& block, bool& any) const {
  any = block.any(axis_letters);
  block.take_all(axis_letters);
  Vec3 p = to_program(position_);
  if (polar_ && (block.has('X') || block.has('Y'))) {
    // Radius and angle about the program's zero; an absent one stays as it is.
    double radius = std::hypot(p.x(), p.y()), angle = std::atan2(p.y(), p.x());
    if (block.has('X')) radius = absolute_ ? to_mm(block['X']) : radius + to_mm(block['X']);
    if (block.has('Y')) angle = block['Y'] / deg_per_rad + (absolute_ ? 0 : angle);
    p.x() = radius * std::cos(angle);
    p.y() = radius * std::sin(angle);
    if (block.has('Z')) p.z() = absolute_ ? to_mm(block['Z']) : p.z() + to_mm(block['Z']);
    return from_program(p);
  }
  for (int k = 0; k < 3; ++k) {
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (!block.has(letter)) continue;
    const double v = to_mm(block[letter]);
    p[k] = absolute_ ? v : p[k] + v;
  }
  return from_program(p);
}

bool Interpreter::within_reach(const Vec3& p) {
  return std::abs(p.x()) <= farthest && std::abs(p.y()) <= farthest && std::abs(p.z()) <= farthest;
}

bool Interpreter::in_reach(const Block& block, const Vec3& p) {
  if (within_reach(p)) return true;
  const char letter = block.has('X') ? 'X' : block.has('Y') ? 'Y' : 'Z';
  return fail_at(block, letter, "position-unbounded", "this lies more than a kilometre away",
                 "check units and decimal points");
}

void Interpreter::emit(Motion m) {
  if (reporter_.failed()) return;
  // Where cutter compensation has ended the tool stands beside the programmed point: a straight
  // move starts there.
  if (tool_at_ && m.kind != PathKind::arc && (m.start - *tool_at_).norm() > 1e-9)
    m.start = *tool_at_;
  tool_at_ = m.end;
  m.line = m.line == 0 ? line_ : m.line;
  if (m.axes_given == 0) m.axes_given = axes_given_;
  m.state = state_index();
  m.chain = chain_;
  moved_ = true;
  if (trace_ != nullptr) trace_->block_of_motion.push_back(traced_block(m));
  sink_.motion(m, state_);
}

// How far beside the programmed place the tool stands where cutter compensation has ended: until X
// or Y is given it stays there, and a move without them goes along z alone.
Vec3 Interpreter::left_beside() const {
  if (!tool_at_ || compensation_.on() || corner_ || reporter_.failed()) return Vec3::Zero();
  const Vec3 beside(tool_at_->x() - position_.x(), tool_at_->y() - position_.y(), 0);
  return beside.norm() > 1e-9 ? beside : Vec3(Vec3::Zero());
}

// words: whose axis words the move is of; nullptr: all axes are meant.
void Interpreter::emit_straight(const Vec3& to, double feed, bool rapid, const Block* words) {
  if (corner_) corner_left_open();
  Motion m;
  m.kind = rapid ? PathKind::rapid : PathKind::line;
  m.start = position_;
  m.end = to;
  if (words != nullptr && !words->any("XY")) m.end += left_beside();
  m.feed = rapid ? 0 : feed;
  position_ = to;
  emit(m);
}

// The feed of a move of that length, mm/min.
std::optional<double> Interpreter::feed_for(const Block& block, double length) {
  const std::size_t column = block.g_count > 0 ? block.g[0].column : 0;
  feed_used_ = true;
  if ((doubt_ & Doubt::feed) != 0) return 1000;  // of no move that is given out
  switch (feed_mode_) {
    case FeedMode::inverse_time:
      if (!block.has('F') || block['F'] <= 0) {
        fail("inverse-feed-missing", column, 1,
             "in inverse time (G93) every feed move needs its own F above 0");
        return std::nullopt;
      }
      return watched(block, length, length * block['F']);
    case FeedMode::per_turn:
      if (state_.spindle_rpm <= 0) {
        fail("spindle-for-feed", column, 1, "feed per turn (G95) while no spindle speed is given");
        doubt_ |= Doubt::feed;
        return std::nullopt;
      }
      if (state_.turn == SpindleTurn::stopped && !strict()) {
        fail("spindle-off-for-feed", column, 1,
             "feed per turn (G95) while the spindle stands: the control waits for it to turn; the "
             "feed is that of the S in force",
             "post M3 or M4 before the move");
      }
      break;
    case FeedMode::per_minute:
      break;
  }
  if (!(feed_ > 0)) {
    fail("feed-missing", column, 1,
         feed_given_          ? "a feed move at feed 0"
         : feed_mode_changed_ ? "a feed move before any feed F in the new feed mode (G93, G94, G95)"
                              : "a feed move before any feed F",
         "post F with the first feed move");
    doubt_ |= Doubt::feed;
    return std::nullopt;
  }
  return watched(
      block, length,
      feed_mode_ == FeedMode::per_turn ? to_mm(feed_) * state_.spindle_rpm : to_mm(feed_));
}

// Hands the feed (mm/min) back, with a warning where a move of that length (mm) would crawl.
double Interpreter::watched(const Block& block, double length, double feed) {
  if (feed_scale_ != scale_ && feed_mode_ != FeedMode::inverse_time) {
    fail("feed-units", block.g_count > 0 ? block.g[0].column : 0, 1,
         fmt::format("F{:g} was given in {}, and is taken in {} here: the number stays", feed_,
                     feed_scale_ == 1 ? "mm" : "inches", scale_ == 1 ? "mm" : "inches"),
         "post F behind G20 and G21");
  }
  if (feed >= crawling_feed || length <= long_move * feed) return feed;
  const std::size_t column = block.has('F')      ? block.column['F' - 'A']
                             : block.g_count > 0 ? block.g[0].column
                                                 : 0;
  const double hours = length / feed / 60, days = hours / 24;
  fail("feed-crawls", column, 1,
       fmt::format("at {:.3g} mm/min a move of {:.3g} mm takes {}", feed, length,
                   days > 1000 ? fmt::format("{:.3g} years", days / 365)
                   : days > 2  ? fmt::format("{:.0f} days", days)
                               : fmt::format("{:.1f} hours", hours)),
       "check the feed, its decimal point, and whether it is meant per turn (G95)");
  return feed;
}

void Interpreter::tell_of_units() {
  // Behind a mistake they may have been said on the line that could not be read.
  if (units_said_ || strict() || moved_ || reporter_.failed()) return;
  fail("units-missing", 0, 1,
       "the program moves before saying inch (G20) or mm (G21); mm is taken");
}

bool Interpreter::motion(const Block& block) {
  const int code = g_[slot(Group::motion)];
  const bool axis_words = block.any(axis_letters);
  if (code >= 0) {
    if (code <= 30) straight_mode_ = code;
    motion_mode_ = code;
    if (ends_cycle(code)) {
      sticky_ = {};
      series_ = {};
    }
    doubt_ &= ~Doubt::mode;
  }
  if (code == 800 && reads_.is(Read::cycles, "own-group")) {
    motion_mode_ = straight_mode_;
  } else if (code == 800) {
    if (axis_words && g_[slot(Group::once)] != 530) {
      return fail("axis-words-idle", g_column_[slot(Group::motion)], 3,
                  "axis words on a line with G80");
    }
    return true;
  }
  const bool is_arc = motion_mode_ == 20 || motion_mode_ == 30;
  const bool arc_words = is_arc && (block.any(offset_letters) || block.has('R'));
  if (!axis_words && !arc_words) {
    if (g_[slot(Group::once)] == 530)
      return fail("axis-words-missing", g_column_[slot(Group::once)], 3, "G53 without axis words");
    if (code < 0 || code == 800 || block.any("ABCUVW")) return true;
    // A bare G0, G1, G2 or G3 only sets the mode in practice; the report wants axis words.
    if (strict() || code > 30)
      return fail("axis-words-missing", g_column_[slot(Group::motion)], 2,
                  fmt::format("G{:g} without axis words", code / 10.0));
    return true;
  }
  if (motion_mode_ == 800 && (doubt_ & Doubt::mode) != 0) {
    bool any = false;
    position_ = target(block, any);
    return true;
  }
  if (motion_mode_ == 800) {
    const char letter = block.has('X') ? 'X' : block.has('Y') ? 'Y' : 'Z';
    return fail_at(block, letter, "axis-words-idle", "axis words while no motion is in force (G80)",
                   "post G0 or G1 on this line; or say machine.reads.cycles = \"own-group\" in the "
                   "job where the G0 or G1 before the cycle comes back");
  }
  tell_of_units();
  if (polar_ && !absolute_ && block.any("XY") && g_[slot(Group::once)] != 530) {
    return fail_at(block, block.has('X') ? 'X' : 'Y', "rotation",
                   "polar words (G16) under G91 start from the place reached on some controls, and "
                   "add to radius and angle on others",
                   "post them under G90");
  }
  if (g_[slot(Group::once)] == 530) {
    if (motion_mode_ != 0 && motion_mode_ != 10) {
      return fail("g53-without-motion", g_column_[slot(Group::once)], 3,
                  "G53 without G0 or G1 in force");
    }
    return machine_move(block, motion_mode_ == 0);
  }
  tell_of_length(block);
  tell_of_half_a_place(block);
  switch (motion_mode_) {
    case 0:
      return straight(block, true);
    case 10:
      return straight(block, false);
    case 20:
      return arc(block, true);
    case 30:
      return arc(block, false);
    case 382:
    case 383:
    case 384:
    case 385:
      return probe(block);
    default:
      return cycle(block, motion_mode_);
  }
}

bool Interpreter::straight(const Block& block, bool rapid) {
  bool any = false;
  const Vec3 to = target(block, any);
  if (!in_reach(block, to)) return false;
  Motion m;
  m.kind = rapid ? PathKind::rapid : PathKind::line;
  m.start = position_;
  m.end = to;
  m.line = line_;
  m.axes_given = axes_given_;
  if (!rapid) {
    const auto feed = feed_for(block, (to - position_).norm());
    if (!feed) return false;
    m.feed = *feed;
  }
  if (const Vec3 beside = left_beside(); beside != Vec3::Zero()) {
    if (!block.any("XY"))
      m.end += beside;
    else
      tell_of_half_an_exit(block, beside);
  }
  position_ = to;
  return give(block, m);
}

// Hands a programmed move on: rounds the corner it begins at, keeps it where its own end is to be
// rounded.
bool Interpreter::give(const Block& block, const Motion& programmed) {
  Motion m = programmed;
  if (corner_ && !round_corner(m)) return false;
  PendingCorner corner;
  if (!corner_of(block, corner)) return false;
  if (!(corner.size > 0)) return along(m);
  corner.motion = m;
  corner_ = std::move(corner);
  return true;
}

// Beside the contour under cutter compensation, else as it is.
bool Interpreter::along(const Motion& m, bool by_radius) {
  if (!compensation_.on()) {
    emit(m);
    return true;
  }
  // Digits of coordinates show what the post rounds to; whole numbers alone do not.
  const int digits = decimals_ >= 2 ? decimals_ : scale_ == 1 ? 3 : 4;
  compensation_.last_place(scale_ * std::pow(10.0, -digits) * factor_.cwiseAbs().maxCoeff());
  if (const auto why = compensation_.add(m, by_radius, [this](const Motion& out) { emit(out); })) {
    return fail("compensation", 0, context_.text.size(), *why, compensation_.largest_that_fits());
  }
  return true;
}

// G53: machine coordinates for this line.
bool Interpreter::machine_move(const Block& block, bool rapid) {
  // The move before it is not given out yet, and controls differ in what becomes of the offset.
  if (compensation_.on()) {
    return fail("compensation", g_column_[slot(Group::once)], 3,
                "no G53 while cutter compensation is on", "post G40 and a move before it");
  }
  if (!absolute_ && !strict()) {
    fail("machine-move-by-increments", g_column_[slot(Group::once)], 3,
         "G53 under G91 is taken to a machine coordinate; some controls pass over it, and the tool "
         "stays where it is",
         "post G90 with it");
  }
  block.take_all(axis_letters);
  Vec3 to = position_;
  for (int k = 0; k < 3; ++k) {
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (!block.has(letter)) continue;
    const double v = to_mm(block[letter]);
    if (options_.zero_in_machine) {
      to[k] = v - (*options_.zero_in_machine)[k];
    } else if (strict()) {
      to[k] = v;
    } else if (v == 0) {
      fail_at(block, letter, "machine-position-unknown",
              "machine zero is taken to be where the program started on this axis",
              "give zero_in_machine in the setup to have it checked");
      to[k] = options_.start[k];
    } else {
      return fail_at(
          block, letter, "machine-position-needed",
          fmt::format("machine coordinate {}{:g} cannot be placed", letter, block[letter]),
          "give zero_in_machine in the setup");
    }
  }
  if (!in_reach(block, to)) return false;
  double feed = 0;
  if (!rapid) {
    const auto f = feed_for(block, (to - position_).norm());
    if (!f) return false;
    feed = *f;
  }
  emit_straight(to, feed, rapid, &block);
  return true;
}

bool Interpreter::probe(const Block& block) {
  bool any = false;
  const Vec3 to = target(block, any);
  const std::size_t column = g_column_[slot(Group::motion)];
  if (compensation_.on())
    return fail("compensation", column, 3, "no probe move while cutter compensation is on",
                "post G40 and a move before it");
  if (feed_mode_ == FeedMode::inverse_time)
    return fail("probe", column, 3, "a probe move in inverse time feed");
  if ((to - position_).norm() < 0.254)
    return fail("probe", column, 3, "a probe move of less than 0.254 mm");
  const auto feed = feed_for(block, (to - position_).norm());
  if (!feed) return false;
  fail("probe-assumed", column, 5,
       "where the probe would touch is not known: the move is taken to its end");
  emit_straight(to, *feed, false, &block);
  const Vec3 at = to_program(to);
  for (int k = 0; k < 3; ++k) parameters_.set(5061 + k, at[k] / scale_);
  return true;
}

bool Interpreter::arc(const Block& block, bool clockwise) {
  const PlaneAxes a = axes_of(plane_);
  const char first = axis_letters[static_cast<std::size_t>(a.first)];
  const char second = axis_letters[static_cast<std::size_t>(a.second)];
  const char i = offset_letters[static_cast<std::size_t>(a.first)];
  const char j = offset_letters[static_cast<std::size_t>(a.second)];
  const char k = offset_letters[static_cast<std::size_t>(a.normal)];
  const std::size_t column = g_[slot(Group::motion)] >= 0 ? g_column_[slot(Group::motion)] : 0;
  const bool centre = block.has(i) || block.has(j);
  block.take_all(std::string{i, j, 'R'});
  // K0 and the like are what posts print; a number of turns or a pitch on some controls.
  if (block.has(k) && (block[k] == 0 || strict())) {
    block.take(k);
    fail_at(block, k, "arc-offset-idle",
            fmt::format("{} lies outside the arc's plane and is not used", k));
  }
  if (centre && block.has('R'))
    return fail_at(block, 'R', "arc-both-forms", "an arc has a centre or a radius, not both");
  if (!centre && !block.has('R')) {
    return fail("arc-without-centre", column, 2,
                fmt::format("the arc has neither {}, {} nor R", i, j),
                "post the centre in I, J, K or the radius in R");
  }
  if (absolute_arcs_ && centre && block.has(i) != block.has(j)) {
    return fail_at(block, block.has(i) ? i : j, "arc-without-centre",
                   fmt::format("absolute centres (G90.1) need both {} and {}: one left out is 0 on "
                               "some controls, and where the arc starts on others",
                               i, j));
  }
  const bool end_given = block.has(first) || block.has(second);
  if (!end_given) {
    if (block.has('R'))
      return fail("arc-radius-same-point", column, 2, "an arc by radius needs an end point");
    if (!fail("arc-full-turn", column, 2,
              "the arc has no end point in its plane: taken as a full turn"))
      return false;
  }
  bool any = false;
  Motion m;
  m.kind = PathKind::arc;
  m.plane = plane_;
  m.start = position_;
  m.end = target(block, any);
  m.line = line_;
  m.axes_given = axes_given_;
  if (!in_reach(block, m.end)) return false;
  const auto factor = plane_factor(plane_);
  if (!factor) return fail("scaling", column, 2, "an arc scaled by different factors is no arc");
  const bool sense = clockwise != mirrored_in(plane_);
  const bool made = block.has('R') ? arc_by_radius(block, m, *factor * to_mm(block['R']), sense)
                                   : arc_by_centre(block, m, sense, !end_given);
  if (!made) return false;
  const Box3 around = bounds(m);
  if (!within_reach(around.min()) || !within_reach(around.max())) {
    return fail_at(block,
                   block.has('R') ? 'R'
                   : block.has(i) ? i
                                  : j,
                   "position-unbounded",
                   "on its way from start to end the arc goes more than a kilometre away",
                   "check the radius or the centre, and the units");
  }
  const auto feed = feed_for(block, length(m));
  if (!feed) return false;
  m.feed = *feed;
  position_ = m.end;
  if (!compensation_.on() && tool_at_ && (m.start - *tool_at_).norm() > 1e-6 && !corner_) {
    return fail("compensation", 0, context_.text.size(),
                "the first move after cutter compensation must be straight, not an arc");
  }
  if (corner_) return corner_left_open();
  return along(m, block.has('R'));
}

bool Interpreter::arc_by_radius(const Block& block, Motion& m, double radius, bool clockwise) {
  const PlaneAxes a = axes_of(plane_);
  const double u = m.end[a.first] - m.start[a.first], v = m.end[a.second] - m.start[a.second];
  const double chord = std::hypot(u, v);
  if (chord == 0)
    return fail_at(block, 'R', "arc-radius-same-point",
                   "an arc by radius with its end at its start");
  double h2 = radius * radius - chord * chord / 4;
  // Half circles come out a rounding short; more than that is a mistake.
  const double slack =
      strict() ? 1e-6 * chord * chord : std::max(0.005 * chord, 1e-3 * chord * chord);
  if (h2 < -slack) {
    return fail_at(block, 'R', "arc-radius-short",
                   fmt::format("radius {:g} does not reach: start and end are {:g} mm apart",
                               std::abs(radius), chord),
                   "check R, or post the centre");
  }
  if (const double lacks = chord / 2 - std::abs(radius); lacks > told_radius) {
    fail_at(block, 'R', "arc-radius-rounded",
            fmt::format("radius {:g} is {:.3g} mm short of half the way from start to end, which "
                        "is taken",
                        std::abs(radius), lacks));
  }
  h2 = std::max(h2, 0.0);
  // Looking along the chord the centre of a counter-clockwise arc of at most half a turn lies left.
  const double side = (clockwise ? -1.0 : 1.0) * (radius < 0 ? -1.0 : 1.0) * std::sqrt(h2) / chord;
  m.centre = m.start;
  m.centre[a.first] += u / 2 - side * v;
  m.centre[a.second] += v / 2 + side * u;
  const double r = std::hypot(chord / 2, std::sqrt(h2));
  double sweep = 2 * std::asin(std::min(1.0, chord / (2 * r)));
  if (radius < 0) sweep = 2 * pi - sweep;
  m.sweep = clockwise ? -sweep : sweep;
  return true;
}

bool Interpreter::arc_by_centre(const Block& block, Motion& m, bool clockwise, bool full_turn) {
  const PlaneAxes a = axes_of(plane_);
  Vec3 offset = Vec3::Zero();
  for (int k : {a.first, a.second}) {
    const char letter = offset_letters[static_cast<std::size_t>(k)];
    if (block.has(letter)) offset[k] = to_mm(block[letter]);
  }
  if (absolute_arcs_) {
    Vec3 c = to_program(m.start);
    for (int k : {a.first, a.second}) {
      if (block.has(offset_letters[static_cast<std::size_t>(k)])) c[k] = offset[k];
    }
    m.centre = from_program(c);
  } else {
    offset = offset.cwiseProduct(factor_);
    if (rotated_) {
      const double c = std::cos(rotation_), s = std::sin(rotation_);
      offset = Vec3(c * offset.x() - s * offset.y(), s * offset.x() + c * offset.y(), offset.z());
    }
    m.centre = m.start + offset;
  }
  m.centre[a.normal] = m.start[a.normal];
  const double r0 =
      std::hypot(m.start[a.first] - m.centre[a.first], m.start[a.second] - m.centre[a.second]);
  const double r1 =
      std::hypot(m.end[a.first] - m.centre[a.first], m.end[a.second] - m.centre[a.second]);
  const std::size_t column = g_[slot(Group::motion)] >= 0 ? g_column_[slot(Group::motion)] : 0;
  if (r0 < 1e-6 || r1 < 1e-6)
    return fail("arc-radius-zero", column, 2, "the arc's centre is its start or end");
  const double apart = std::abs(r0 - r1);
  const double strict_limit = scale_ == 1 ? 0.002 : 0.0002 * mm_per_inch;
  if (apart > strict_limit * (1 + 1e-9)) {
    // Rounded ends: 3 decimals give up to 0.003 mm. A tenth of a percent of the radius is the
    // practice.
    const double shop_limit =
        std::max(scale_ == 1 ? 0.005 : 0.0005 * mm_per_inch, 1e-3 * std::min(r0, r1));
    const std::string what =
        fmt::format("the arc starts at radius {:.4f} and ends at {:.4f} mm", r0, r1);
    if (strict() || apart > shop_limit) {
      return fail("arc-radius-mismatch", column, 2, what, "check I, J, K and the end point");
    }
    fail("arc-radius-rounded", column, 2, what);
  }
  const double from =
      std::atan2(m.start[a.second] - m.centre[a.second], m.start[a.first] - m.centre[a.first]);
  const double to =
      std::atan2(m.end[a.second] - m.centre[a.second], m.end[a.first] - m.centre[a.first]);
  double sweep = clockwise ? from - to : to - from;
  while (sweep <= 1e-9) sweep += 2 * pi;
  while (sweep > 2 * pi + 1e-9) sweep -= 2 * pi;
  // An end within rounding of the start is a full turn only where it is the start.
  const bool same_point =
      std::hypot(m.end[a.first] - m.start[a.first], m.end[a.second] - m.start[a.second]) < 1e-9;
  if (full_turn || same_point) sweep = 2 * pi;
  if (!strict() && block.take('P')) {
    int turns = 1;
    if (!whole(block, 'P', 1, 10000, turns)) return false;
    fail_at(
        block, 'P', "arc-more-turns",
        fmt::format("P{} is taken as the number of turns; controls differ in P of an arc", turns),
        "post the turns one by one");
    sweep += 2 * pi * (turns - 1);
  }
  m.sweep = clockwise ? -sweep : sweep;
  return true;
}

}  // namespace proveout::nc
