// Canned cycles (NISTIR 6556 section 3.5.16), expanded into moves and waits. G73 is common
// practice.
#include <fmt/format.h>

#include <cmath>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

// How far a peck stops above the bottom it left, and how far a chip break lifts: 0.254 mm (0.010
// inch), from memory of common practice; the report says 'backed off a bit'.
constexpr double back_off = 0.254;
constexpr std::string_view axis_letters = "XYZ";

}  // namespace

// The words a cycle remembers, each where the cycle uses it: what it does not use stays unused.
void Interpreter::cycle_words(const Block& block, int code) {
  const bool once_has_p = g_[static_cast<std::size_t>(Group::once)] == 40 || m_call_ >= 0;
  const bool waits =
      code != 810 && code != 870 && (!strict() || code == 820 || code == 860 || code >= 880);
  if (waits && !once_has_p && block.take('P'))
    sticky_.dwell = seconds_of(block, 'P', Read::cycle_p);
  const auto keep = [&](std::string_view letters) {
    for (const char letter : letters) {
      if (!block.take(letter)) continue;
      const double v = to_mm(block[letter]);
      (letter == 'Q'   ? sticky_.peck
       : letter == 'I' ? sticky_.i
       : letter == 'J' ? sticky_.j
                       : sticky_.k) = v;
    }
  };
  const bool tapping = code == 740 || code == 840;
  if (code == 730 || code == 830 || (tapping && !strict())) keep("Q");
  if (code == 870) keep("IJK");
  if (code == 760) keep(block.any("IJ") ? "IJ" : "Q");
}

// R and depth: in the shop profile the levels their words meant where they stood, in the report's
// reading the numbers, by G90 or G91 of each line.
bool Interpreter::cycle_levels(const Block& block, const Vec3& now, double& retract,
                               double& depth) {
  const int n = normal_axis();
  const char letter = axis_letters[static_cast<std::size_t>(n)];
  const std::size_t column = block.g_count > 0 ? block.g[0].column : 0;
  block.take(letter);
  if (block.take('R')) {
    sticky_.retract = to_mm(block['R']);
    sticky_.retract_absolute = absolute_;
    sticky_.retract_level = absolute_ ? *sticky_.retract : old_level_ + *sticky_.retract;
    // A depth by increments counts from R.
    if (sticky_.depth && !sticky_.depth_absolute)
      sticky_.depth_level = sticky_.retract_level + *sticky_.depth;
  }
  if (!sticky_.retract) return fail("cycle-retract-missing", column, 3, "the cycle has no R");
  if (block.has(letter)) {
    sticky_.depth = to_mm(block[letter]);
    sticky_.depth_absolute = absolute_;
    sticky_.depth_level = absolute_ ? *sticky_.depth : sticky_.retract_level + *sticky_.depth;
  }
  if (!sticky_.depth)
    return fail("cycle-depth-missing", column, 3, fmt::format("the cycle has no {}", letter));
  const double again_r = absolute_ ? *sticky_.retract : now[n] + *sticky_.retract;
  const double again_z = absolute_ ? *sticky_.depth : again_r + *sticky_.depth;
  const bool kept = reads_.is(Read::cycle_levels, "kept");
  retract = kept ? sticky_.retract_level : again_r;
  depth = kept ? sticky_.depth_level : again_z;
  if (std::abs(again_r - sticky_.retract_level) > 1e-9 ||
      std::abs(again_z - sticky_.depth_level) > 1e-9) {
    assume(Read::cycle_levels, 0, context_.text.size(),
           fmt::format("R and depth of the cycle are {:g} and {:g} mm here", retract, depth));
  }
  if (retract < depth) {
    return fail("cycle-retract-below", column, 3,
                fmt::format("R {:g} lies below the depth {:g}", retract, depth));
  }
  return true;
}

// Where the tool stood before the cycles that a code of one more joins, or before that code, by the
// job's choice; what it is the other way is kept too.
double Interpreter::level_before_series() {
  const int n = normal_axis();
  if (!series_.going || series_.plane != plane_) series_ = {true, plane_, position_[n]};
  Vec3 before = position_;
  before[n] = series_.level;
  const double of_series = to_program(before)[n], of_code = to_program(position_)[n];
  const bool kept = reads_.is(Read::cycle_levels, "kept");
  other_level_ = kept ? of_code : of_series;
  return kept ? of_series : of_code;
}

// L or K, by the job's choice; 0 keeps the words and drills nothing (practice).
bool Interpreter::cycle_repeats(const Block& block, int code, int& repeats) {
  repeats = 1;
  const bool k_is_offset = code == 870;
  for (const char letter : std::string_view("LK")) {
    if (!block.has(letter) || (letter == 'K' && k_is_offset)) continue;
    if (letter == 'L' && m_call_ >= 0) continue;
    if (letter == 'K' && strict()) continue;
    block.take(letter);
    const bool read = reads_.is(Read::cycle_repeats, "l-or-k") ||
                      reads_.is(Read::cycle_repeats, letter == 'L' ? "l" : "k");
    const double v = block[letter];
    if (!read && v != 1) {
      return fail_at(block, letter, "cycle-repeats",
                     fmt::format("{}{:g} is not read as repeats", letter, v),
                     "say machine.reads.cycle_repeats in the job");
    }
    if (std::abs(v - std::round(v)) > 1e-4 || v < (strict() ? 1 : 0) || v > 9999) {
      return fail_at(
          block, letter, "cycle-repeats",
          fmt::format("{} must be a whole number from {} to 9999", letter, strict() ? 1 : 0));
    }
    if (v != 1) {
      assume(Read::cycle_repeats, block.column[static_cast<std::size_t>(letter - 'A')], 2,
             fmt::format("{}{:g} repeats the cycle", letter, v));
    }
    if (read) repeats = static_cast<int>(std::lround(v));
    if (repeats == 0) {
      return fail_at(block, letter, "cycle-stored",
                     fmt::format("{}0 keeps the cycle's words and drills nothing here", letter));
    }
  }
  return true;
}

bool Interpreter::cycle(const Block& block, int code) {
  const int n = normal_axis(), a = (n + 1) % 3, b = (n + 2) % 3;
  const std::size_t column = g_[static_cast<std::size_t>(Group::motion)] >= 0
                                 ? g_column_[static_cast<std::size_t>(Group::motion)]
                                 : 0;
  const auto refuse = [&](std::string_view which, std::string what) {
    return fail(which, column, 3, std::move(what));
  };
  if (strict() && (code == 740 || code == 760))
    return refuse("g-code-unknown", "the report has no such cycle");
  if (compensation_.on()) return refuse("compensation", "no cycle while cutter compensation is on");
  const Vec3 beside = left_beside();
  if (beside != Vec3::Zero() && !block.any("XY")) {
    return refuse("compensation",
                  "a cycle without X and Y before the straight move that ends cutter compensation");
  }
  if (feed_mode_ == FeedMode::inverse_time)
    return refuse("cycle-feed-mode", "a cycle in inverse time feed (G93)");
  if (factor_[n] != 1 || ((scaling_ || mirroring_) && (code == 760 || code == 870)))
    return refuse("scaling", "a cycle whose depth or shift is scaled or mirrored");
  if (g_[static_cast<std::size_t>(Group::motion)] >= 0) {
    old_level_ = level_before_series();
    sticky_.peck = sticky_.dwell = sticky_.i = sticky_.j = sticky_.k = std::nullopt;
  }
  if (n != 2) fail("cycle-plane", column, 3, "a cycle in another plane than xy");
  if (block.has('P') && block['P'] < 0)
    return fail_at(block, 'P', "value-negative", "a dwell must not be negative");
  cycle_words(block, code);
  const Vec3 now = to_program(position_);
  double retract = 0, depth = 0;
  if (!cycle_levels(block, now, retract, depth)) return false;
  int repeats = 1;
  if (!cycle_repeats(block, code, repeats)) return false;
  const auto feed = feed_for(block, 1);
  if (!feed) return false;
  if (repeats == 0) {
    for (const int k : {a, b}) {
      const char letter = axis_letters[static_cast<std::size_t>(k)];
      if (!block.take(letter)) continue;
      reporter_.of(std::string("L0 ") + letter);
      fail_at(block, letter, "word-idle",
              fmt::format("{}{:g} moves nothing here, with repeats 0; some controls go there",
                          letter, block[letter]),
              "give the cycle's words and its places lines of their own");
    }
    return true;
  }
  block.take_all(axis_letters);
  // Clear level: the level before the cycle under G98 if that is higher, else R.
  const double clear = return_to_old_ ? std::max(old_level_, retract) : retract;
  if (return_to_old_ && std::abs(clear - std::max(other_level_, retract)) > 1e-9) {
    reporter_.of("old level");
    assume(Read::cycle_levels, column, 3,
           fmt::format("G98 goes back to {:g} mm, the level {}", clear,
                       reads_.is(Read::cycle_levels, "kept")
                           ? "before the first of these cycles, not this one"
                           : "before this cycle, not the first of these"));
  }
  const auto rapid_to = [&](const Vec3& program) { emit_straight(from_program(program), 0, true); };
  if (now[n] < retract) {
    Vec3 up = now;
    up[n] = retract;
    emit_straight(from_program(up) + beside, 0, true);
  }
  Vec3 place = now;
  for (int r = 0; r < repeats; ++r) {
    if (r > 0 && !count_cycle_moves(8)) return false;
    for (int k : {a, b}) {
      const char letter = axis_letters[static_cast<std::size_t>(k)];
      if (!block.has(letter)) continue;
      place[k] = absolute_ ? to_mm(block[letter]) : place[k] + to_mm(block[letter]);
    }
    Vec3 over = place;
    if (polar_ && (block.has('X') || block.has('Y'))) {
      bool any = false;
      over = to_program(target(block, any));
      place[0] = over[0];
      place[1] = over[1];
    }
    over[n] = to_program(position_)[n];
    if (!in_reach(block, from_program(over))) return false;
    rapid_to(over);
    if (!cycle_at(block, code, place, retract, depth, clear, *feed)) return false;
  }
  return true;
}

// G70 I J L: the cycle in force at L holes on a circle of radius I about where the tool stands, the
// first at J degrees from x (practice).
bool Interpreter::bolt_circle(const Block& block, Code code) {
  const auto refuse = [&](std::string what) {
    return fail("cycle-word", code.column, 3, std::move(what), "post the holes themselves");
  };
  block.take_all("IJL");
  if (motion_mode_ < 700 || motion_mode_ == 800 || plane_ != Plane::xy)
    return refuse("G70 without a cycle in force in the xy plane");
  if (!sticky_.retract || !sticky_.depth || polar_ || scaling_ || mirroring_)
    return refuse(
        "G70 before the cycle has its words, or in polar, scaled or mirrored coordinates");
  int holes = 0;
  if (!block.has('I') || !block.has('L')) return refuse("G70 without I or L");
  if (!whole(block, 'L', 1, 9999, holes)) return false;
  const auto feed = feed_for(block, 1);
  if (!feed) return false;
  const Vec3 centre = to_program(position_);
  const double from = block.has('J') ? block['J'] / deg_per_rad : 0;
  const double clear =
      return_to_old_ && old_level_ > sticky_.retract_level ? old_level_ : sticky_.retract_level;
  for (int k = 0; k < holes; ++k) {
    if (k > 0 && !count_cycle_moves(8)) return false;
    const double angle = from + 2 * pi * k / holes;
    Vec3 place = centre;
    place.x() += to_mm(block['I']) * std::cos(angle);
    place.y() += to_mm(block['I']) * std::sin(angle);
    place.z() = to_program(position_).z();
    if (!in_reach(block, from_program(place))) return false;
    emit_straight(from_program(place), 0, true);
    if (!cycle_at(block, motion_mode_, place, sticky_.retract_level, sticky_.depth_level, clear,
                  *feed))
      return false;
  }
  return true;
}

// Along the plane's normal to a level in program coordinates, mm.
void Interpreter::to_level(double at, double feed, bool rapid) {
  Vec3 p = to_program(position_);
  p[normal_axis()] = at;
  emit_straight(from_program(p), feed, rapid);
}

void Interpreter::turn_spindle(SpindleTurn turn) {
  state_.turn = turn;
  event(EventKind::spindle);
}

void Interpreter::peck(double retract, double depth, double step, double feed, bool full_retract) {
  double bottom = retract;
  while (bottom - step > depth + 1e-9) {
    const double next = bottom - step;
    if (!count_cycle_moves(3)) return;
    to_level(next, feed, false);
    if (full_retract) {
      to_level(retract, feed, true);
      to_level(std::min(retract, next + back_off), feed, true);
    } else {
      to_level(std::min(retract, next + back_off), feed, true);
    }
    bottom = next;
  }
  to_level(depth, feed, false);
}

// Tapping by steps: each comes back to R with the spindle the other way round (practice; some
// controls only break the chip).
void Interpreter::peck_tapping(double retract, double depth, double step, double feed) {
  const SpindleTurn turning = state_.turn;
  if (!strict()) {
    fail("cycle-pecks", 0, context_.text.size(),
         "each step of tapping comes back to R; some controls only break the chip",
         "see which the control does: the time differs");
  }
  const SpindleTurn back =
      turning == SpindleTurn::clockwise ? SpindleTurn::counter_clockwise : SpindleTurn::clockwise;
  for (double bottom = retract - step; bottom > depth + 1e-9; bottom -= step) {
    if (!count_cycle_moves(4)) return;
    to_level(bottom, feed, false);
    turn_spindle(back);
    to_level(retract, feed, false);
    turn_spindle(turning);
  }
  to_level(depth, feed, false);
}

bool Interpreter::cycle_at(const Block&, int code, const Vec3& place, double retract, double depth,
                           double clear, double feed) {
  const int n = normal_axis();
  const std::size_t column = g_[static_cast<std::size_t>(Group::motion)] >= 0
                                 ? g_column_[static_cast<std::size_t>(Group::motion)]
                                 : 0;
  const auto level = [&](double at, bool rapid) { to_level(at, feed, rapid); };
  const auto spindle = [&](SpindleTurn turn) { turn_spindle(turn); };
  const auto across = [&](const Vec3& to) {
    Vec3 p = to;
    p[n] = to_program(position_)[n];
    emit_straight(from_program(p), feed, true);
  };
  const auto wait = [&] { event(EventKind::dwell, sticky_.dwell.value_or(0)); };
  const auto needs = [&](bool there, const char* what) {
    return there || fail("cycle-word", column, 3, what);
  };
  const bool step_is_fine =
      !sticky_.peck || (*sticky_.peck > 0 && (retract - depth) / *sticky_.peck <= 100000);
  const SpindleTurn turning = state_.turn;
  // At the feed to R and on by a rapid, or all the way at the feed.
  const bool all_the_way = reads_.is(Read::boring_retract, "feed-all-the-way");
  const auto out_at_feed = [&] { level(all_the_way ? clear : retract, false); };
  const auto rest_by_rapid = [&] {
    if (clear == retract) return;
    assume(Read::boring_retract, column, 3,
           all_the_way ? "the way out of this cycle is at the feed all the way"
                       : "the way out of this cycle is at the feed to R, then a rapid");
    if (!all_the_way) level(clear, true);
  };
  if (code != 870 && std::abs(to_program(position_)[n] - retract) > 1e-12) level(retract, true);
  switch (code) {
    case 810:
      level(depth, false);
      break;
    case 820:
      if (!needs(sticky_.dwell.has_value(), "G82 without a dwell P")) return false;
      level(depth, false);
      wait();
      break;
    case 730:
    case 830:
      if (!(sticky_.peck && *sticky_.peck > 0)) {
        return fail("cycle-word", column, 3, "a pecking cycle without Q above 0",
                    "post Q, how deep each peck goes; or G81 for one stroke");
      }
      if (!needs(step_is_fine, "Q is far too small for the depth")) return false;
      peck(retract, depth, *sticky_.peck, feed, code == 830);
      if (ended_) return false;
      if (sticky_.dwell) wait();
      break;
    case 740:
    case 840: {
      const SpindleTurn in = code == 840 ? SpindleTurn::clockwise : SpindleTurn::counter_clockwise;
      const SpindleTurn out = code == 840 ? SpindleTurn::counter_clockwise : SpindleTurn::clockwise;
      if (turning != in) {
        return fail("cycle-spindle", column, 3,
                    code == 840 ? "G84 needs the spindle turning clockwise (M3)"
                                : "G74 needs the spindle turning counter-clockwise (M4)");
      }
      if (!needs(step_is_fine, "Q of tapping must be above 0, and not far too small")) return false;
      if (sticky_.peck)
        peck_tapping(retract, depth, *sticky_.peck, feed);
      else
        level(depth, false);
      if (ended_) return false;
      if (sticky_.dwell) wait();
      spindle(out);
      out_at_feed();
      spindle(in);
      rest_by_rapid();
      return true;
    }
    case 850:
      level(depth, false);
      if (sticky_.dwell) wait();
      out_at_feed();
      rest_by_rapid();
      return true;
    case 760: {
      // Fine boring: stop turned the known way, step aside by Q or I, J, out by a rapid, back over
      // the hole. Which way Q goes is the machine's; the hole is round, so x is as good.
      if (turning == SpindleTurn::stopped)
        return fail("cycle-spindle", column, 3, "G76 needs the spindle turning");
      Vec3 aside = place;
      aside[(n + 1) % 3] += sticky_.i ? *sticky_.i : sticky_.j ? 0 : sticky_.peck.value_or(0);
      aside[(n + 2) % 3] += sticky_.j.value_or(0);
      level(depth, false);
      if (sticky_.dwell) wait();
      spindle(SpindleTurn::stopped);
      across(aside);
      level(clear, true);
      across(place);
      spindle(turning);
      return true;
    }
    case 860:
    case 880:
      if (turning == SpindleTurn::stopped)
        return fail("cycle-spindle", column, 3, "the cycle needs the spindle turning");
      level(depth, false);
      wait();
      spindle(SpindleTurn::stopped);
      if (code == 880) event(EventKind::stop, 0);
      level(clear, true);
      spindle(turning);
      return true;
    case 870: {
      if (!needs(sticky_.i && sticky_.j && sticky_.k, "G87 needs I, J and K")) return false;
      if (turning == SpindleTurn::stopped)
        return fail("cycle-spindle", column, 3, "G87 needs the spindle turning");
      Vec3 aside = place;
      aside[(n + 1) % 3] += n == 2 ? *sticky_.i : n == 1 ? *sticky_.k : *sticky_.j;
      aside[(n + 2) % 3] += n == 2 ? *sticky_.j : n == 1 ? *sticky_.i : *sticky_.k;
      // The offset along the plane's normal is where the cutting feed goes: K, J or I.
      const double along = n == 2 ? *sticky_.k : n == 1 ? *sticky_.j : *sticky_.i;
      const double up = absolute_ ? along : depth + along;
      across(aside);
      spindle(SpindleTurn::stopped);
      level(depth, true);
      across(place);
      spindle(turning);
      level(up, false);
      level(depth, false);
      spindle(SpindleTurn::stopped);
      across(aside);
      level(clear, true);
      across(place);
      spindle(turning);
      return true;
    }
    case 890:
      if (!needs(sticky_.dwell.has_value(), "G89 without a dwell P")) return false;
      level(depth, false);
      wait();
      out_at_feed();
      rest_by_rapid();
      return true;
    default:
      return fail("g-code-unknown", column, 3, "this cycle is not understood");
  }
  level(clear, true);
  return true;
}

}  // namespace proveout::nc
