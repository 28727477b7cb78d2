// Waits, tools, spindle, units, offsets: what a block sets before anything moves.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

constexpr std::string_view axis_letters = "XYZ";

std::size_t slot(Group g) { return static_cast<std::size_t>(g); }

}  // namespace

bool Interpreter::tool_words(const Block& block) {
  if (g_[slot(Group::spindle_mode)] == 960) {
    return fail("surface-speed", g_column_[slot(Group::spindle_mode)], 3,
                "G96 makes S a surface speed, which a milling program has no diameter for",
                "post G97 and the speed in turns a minute");
  }
  if (block.take('S')) {
    if (block['S'] < 0)
      return fail_at(block, 'S', "value-negative", "a spindle speed must not be negative");
    const auto* const codes_end = block.m.begin() + block.m_count;
    if (std::any_of(block.m.begin(), codes_end, [](Code c) { return c.tenths == 190; })) {
      fail_at(block, 'S', "word-idle",
              fmt::format("S{:g} beside M19 is taken as a speed; it may be the angle the spindle "
                          "stops at on some controls",
                          block['S']),
              "give the speed a line of its own");
    }
    if (state_.spindle_rpm != block['S']) {
      state_.spindle_rpm = block['S'];
      if (state_.turn != SpindleTurn::stopped && m_spindle_ < 0) event(EventKind::spindle);
    }
  }
  if (block.take('T')) {
    int number = 0;
    if (!whole(block, 'T', 0, 99999, number)) return false;
    name_tool(block, number);
    next_tool_ = number;
    tool_word_ = true;
    doubt_ &= ~Doubt::tool;
  }
  if (m_tool_ == 6) {
    if (!tool_word_ && (doubt_ & Doubt::tool) == 0) {
      doubt_ |= Doubt::tool;
      return fail("tool-change-without-number", m_column_, 2, "M6 before any T word names a tool",
                  "post T with the tool's number on or before this line");
    }
    if (compensation_.on() && next_tool_ != state_.tool && !strict()) {
      reporter_.of(fmt::format("M6 {}", next_tool_));
      fail("diameter-offset-other-tool", m_column_, 2,
           fmt::format("T{} comes into the spindle while cutter compensation is on: the diameter "
                       "stays that of before",
                       next_tool_),
           "post G40 before the change, and G41 or G42 with the tool's D behind it");
    }
    state_.turn = SpindleTurn::stopped;
    state_.tool = next_tool_;
    named_tool_.reset();
    if (first_tool_ == 0) first_tool_ = next_tool_;
    watch_length();
    event(EventKind::tool_change, next_tool_);
  }
  return true;
}

bool Interpreter::spindle_and_coolant() {
  if (m_spindle_ >= 0) {
    state_.turn = m_spindle_ == 3   ? SpindleTurn::clockwise
                  : m_spindle_ == 4 ? SpindleTurn::counter_clockwise
                                    : SpindleTurn::stopped;
    event(EventKind::spindle);
  }
  for (int m : m_coolant_) {
    if (m < 0) continue;
    if (m == 7)
      state_.mist = true;
    else if (m == 8)
      state_.flood = true;
    else
      state_.mist = state_.flood = false;
    event(EventKind::coolant);
  }
  return true;
}

// X of G4: seconds with a point; without one milliseconds on controls that read P so, or that count
// steps.
double Interpreter::seconds_in_x(const Block& block) {
  block.take('X');
  const bool steps = reads_.is(Read::lengths_without_point, "least-increment");
  const bool milliseconds = !block.has_point('X') && (steps || !reads_.is(Read::wait_p, "seconds"));
  const double seconds = milliseconds ? block['X'] / 1000 : block['X'];
  if (!block.has_point('X') && !steps && seconds != 0) {
    assume(Read::wait_p, block.column['X' - 'A'], 2,
           fmt::format("X{:g} of G4 is taken as {:g} s", block['X'], seconds));
  }
  fail_at(
      block, 'X', "dwell-word",
      fmt::format("a dwell time in X is taken as {}", milliseconds ? "milliseconds" : "seconds"));
  if (!block.has_point('X') && !steps) tell_of_long_wait(block, 'X', Read::wait_p, seconds);
  return seconds;
}

bool Interpreter::dwell(const Block& block) {
  if (g_[slot(Group::once)] != 40) return true;
  double seconds = 0;
  if (block.has('P')) {
    seconds = seconds_of(block, 'P', Read::wait_p);
  } else if (block.has('X') && !strict()) {
    seconds = seconds_in_x(block);
  } else {
    return fail("dwell-missing", g_column_[slot(Group::once)], 2, "G4 without P",
                "give the seconds in P");
  }
  if (seconds < 0)
    return fail("value-negative", g_column_[slot(Group::once)], 2, "a dwell must not be negative");
  event(EventKind::dwell, seconds);
  return true;
}

bool Interpreter::units(int code) {
  const double scale = code == 200 || code == 700 ? mm_per_inch : 1.0;
  if (compensation_.on() && scale != scale_) {
    return fail("compensation", 0, 1, "the units may not change while cutter compensation is on");
  }
  if (moved_ && scale != scale_)
    fail("units-changed", g_column_[slot(Group::units)], 3, "the units change here");
  scale_ = scale;
  units_said_ = true;
  return true;
}

// The diameter that D names, or that of the tool in the spindle, mm; nullopt, with an error, where
// there is none.
std::optional<double> Interpreter::offset_diameter(const Block& block, std::size_t column) {
  int number = state_.tool;
  if (block.has('D') || (!strict() && d_word_ >= 0)) number = d_word_;
  if (number == 0) return 0;
  const auto entry = table_d_.find(number);
  const OffsetEntry* const of_table = entry == table_d_.end() ? nullptr : &entry->second;
  if (!offset_owner(block, number, of_table, 'D')) return std::nullopt;
  const auto found = options_.tool_diameters.find(
      of_table != nullptr && of_table->tool != 0 ? of_table->tool : number);
  double diameter = 0;
  if (of_table != nullptr && of_table->diameter) {
    diameter = *of_table->diameter;
  } else if (found != options_.tool_diameters.end()) {
    diameter = found->second;
  } else {
    fail("compensation", column, 3, fmt::format("there is no diameter for D{}", number),
         "give the tool in the job's [[tools]], or the entry in [setups.offsets_d]");
    return std::nullopt;
  }
  if (of_table != nullptr) diameter += of_table->wear;
  return diameter;
}

bool Interpreter::compensation_mode(const Block& block) {
  const int code = g_[slot(Group::compensation)];
  const std::size_t column = g_column_[slot(Group::compensation)];
  const auto give_out = [this](const Motion& m) { emit(m); };
  if (code == 400) {
    compensation_.end(give_out);
    return true;
  }
  if (plane_ != Plane::xy)
    return fail("compensation", column, 3, "cutter compensation works in the xy plane only");
  if (compensation_.on()) {
    if (strict()) return fail("compensation", column, 3, "cutter compensation is on already");
    compensation_.end(give_out);
  }
  const auto found = offset_diameter(block, column);
  if (!found) return false;
  double diameter = *found;
  int side = code == 410 ? 1 : -1;
  if (diameter < 0) {
    side = -side;
    diameter = -diameter;
  }
  if (mirrored_in(plane_)) side = -side;
  compensation_.begin(side, diameter / 2, position_, strict());
  compensated_ = true;
  return true;
}

// Whose the entry of that number is.
int Interpreter::owner_of(const std::map<int, OffsetEntry>& table, int number) {
  const auto entry = table.find(number);
  return entry != table.end() && entry->second.tool != 0 ? entry->second.tool : number;
}

// Says where a D or H is not of the tool in the spindle.
bool Interpreter::offset_owner(const Block& block, int number, const OffsetEntry* entry,
                               char letter) {
  const int owner = entry != nullptr && entry->tool != 0 ? entry->tool : number;
  if (number == 0 || state_.tool == 0 || owner == state_.tool || strict()) return true;
  const bool diameter = letter == 'D';
  const auto group = diameter ? Group::compensation : Group::tool_length;
  const std::size_t column = block.has(letter)
                                 ? block.column[static_cast<std::size_t>(letter - 'A')]
                                 : g_column_[slot(group)];
  reporter_.of(fmt::format("{} {}", number, state_.tool));
  return fail(
      diameter ? "diameter-offset-other-tool" : "length-offset-other-tool", column, 3,
      fmt::format("{}{} is T{}'s while T{} is in the spindle: {}", letter, number, owner,
                  state_.tool,
                  diameter ? "its diameter is taken" : "the tip is taken to be right all the same"),
      fmt::format("post {} with the tool's own number, or say in [setups.offsets_{}] whose "
                  "it is",
                  letter, diameter ? 'd' : 'h'));
}

bool Interpreter::length_offset(const Block& block) {
  const int code = g_[slot(Group::tool_length)];
  const std::size_t column = g_column_[slot(Group::tool_length)];
  if (code == 490) {
    if (block['H'] == 0) block.take('H');
    state_.length_offset = 0;
    tip_shift_ = 0;
    settle_zero();
    watch_length();
    return true;
  }
  // G43.1 with H alone takes the length from the table, as G43 does; with numbers of its own it
  // would move the tip.
  if (code == 431 && (strict() || !block.has('H') || block.any("XYZIJK"))) {
    return fail("length-offset", column, 5, "G43.1 sets the tool's length in the program",
                "post G43 H with the tool's number");
  }
  int number = state_.tool;
  if (block.take('H')) {
    if (!whole(block, 'H', 0, 99999, number)) return false;
  } else if (strict()) {
    return fail("length-offset", column, 3, "G43 without H");
  } else {
    fail("length-offset-missing", column, 3,
         "G43 without H takes the length of the tool in the spindle");
  }
  const auto entry = table_h_.find(number);
  const OffsetEntry* const of_table = entry == table_h_.end() ? nullptr : &entry->second;
  if (!offset_owner(block, number, of_table, 'H')) return false;
  state_.length_offset = number;
  // Wear that is not in the tool's true length lifts the tip above the program's place.
  tip_shift_ = of_table == nullptr ? 0 : of_table->wear;
  settle_zero();
  length_used_ = length_used_ || number != 0;
  length_doubt_ = number == 0 && state_.tool != 0 && !strict();  // another tool's is told of above
  return true;
}

const Vec3& Interpreter::offset_of(int work_offset) const {
  static const Vec3 none = Vec3::Zero();
  if (work_offset < 10) return offsets_[static_cast<std::size_t>(work_offset)];
  const auto found = further_offsets_.find(work_offset);
  return found == further_offsets_.end() ? none : found->second;
}

Vec3& Interpreter::offset_of(int work_offset) {
  if (work_offset < 10) return offsets_[static_cast<std::size_t>(work_offset)];
  return further_offsets_.try_emplace(work_offset, Vec3::Zero()).first->second;
}

void Interpreter::settle_zero() {
  zero_ = offset_of(state_.work_offset) + shift_ + local_shift_;
  zero_.z() += tip_shift_;
}

// Whether P of the line is a path tolerance, a factor, an arc's turns or a cycle's wait.
bool Interpreter::others_take_p(const Block& block) const {
  const int code = g_[slot(Group::motion)];
  const int motion = code >= 0 ? code : block.any(axis_letters) ? motion_mode_ : 0;
  return g_[slot(Group::path_control)] == 640 || g_[slot(Group::scaling)] == 510 ||
         (motion >= 20 && motion != 800);
}

// G54 to G59.3; G54.1 P and G154 P, and G54 P, call further ones (practice).
bool Interpreter::work_offset(const Block& block) {
  const int code = g_[slot(Group::work_offset)];
  const std::size_t column = g_column_[slot(Group::work_offset)];
  if (compensation_.on() && strict()) {
    return fail("compensation", 0, 1,
                "the work offset may not change while cutter compensation is on");
  }
  int number = code <= 590 ? (code - 540) / 10 + 1 : code - 591 + 7;
  const bool further = code == 541 || code == 1540;
  if (further && strict()) {
    return fail("g-code-unknown", column, 5, "the report has nine work offsets, G54 to G59.3");
  }
  const bool p_is_its = g_[slot(Group::once)] < 0 && m_call_ < 0 && !others_take_p(block);
  if (further || (!strict() && code == 540 && block.has('P') && p_is_its)) {
    if (!block.take('P') || !p_is_its) {
      return fail("work-offset", column, 5, fmt::format("G{:g} without P", code / 10.0),
                  "post P1 to P300 with it");
    }
    if (!whole(block, 'P', 1, 300, number)) return false;
    if (!further) {
      fail_at(block, 'P', "further-offset",
              fmt::format("G54 P{} is taken as G54.1 P{}; some controls call G54 itself", number,
                          number),
              "post G54.1");
    }
    number += 100;
  }
  if ((scaling_ || mirroring_ || rotated_) && number != state_.work_offset &&
      !frame_may_change(column, "another work offset"))
    return false;
  state_.work_offset = number;
  parameters_.set(Parameters::work_offset_number, number);
  settle_zero();
  return true;
}

bool Interpreter::once(const Block& block) {
  switch (g_[slot(Group::once)]) {
    case 280:
      return home(block, false);
    case 300:
      return home(block, true);
    case 100:
      return set_offsets(block);
    case 520:
      return local_shift(block);
    case 120:
    case 130:
      return circular_pocket(block);
    case 920:
    case 921:
    case 922:
    case 923:
      return shift_zero(block, g_[slot(Group::once)]);
    case 281:
    case 301:
      return fail("g-code-unknown", g_column_[slot(Group::once)], 3,
                  "a home position set in the program is not followed", "set it on the machine");
    default:
      return true;
  }
}

// G28, G30: through the point given, then home. Home lies at parameters 5161.. or 5181.. in machine
// coordinates; without the zero's machine position it is taken to be where the program started.
bool Interpreter::home(const Block& block, bool second) {
  if (compensation_.on()) {
    if (strict()) return fail("compensation", 0, 1, "no homing while cutter compensation is on");
    if (g_[slot(Group::compensation)] >= 410) {
      reporter_.of("G41");
      fail("word-unused", g_column_[slot(Group::compensation)], 3,
           "the way home on this line ends the cutter compensation it begins");
    } else {
      fail("compensation-at-home", g_column_[slot(Group::once)], 3,
           "the way home ends cutter compensation; on some controls it comes back behind it",
           "post G40 before");
    }
    compensation_.end([this](const Motion& m) { emit(m); });
  }
  if (scaling_ || mirroring_) {
    return fail("scaling", g_column_[slot(Group::once)], 3,
                "no way home while coordinates are scaled or mirrored", "end it before");
  }
  if ((polar_ || rotated_) && block.any("XY")) {
    return fail("rotation", g_column_[slot(Group::once)], 3,
                fmt::format("the place a way home goes through is {} on some controls alone",
                            polar_ ? "polar (G16)" : "turned (G68)"),
                polar_ ? "post G15 before" : "post G69 before");
  }
  const bool rotary = block.any("ABCUVW");
  if (rotary && !rotary_at_home(block)) return false;
  bool any = false;
  const Vec3 through = target(block, any);
  if (!any && rotary) return true;
  if (!any) {
    const std::string what = fmt::format("{} without axis words moves ", second ? "G30" : "G28");
    const std::size_t column = g_column_[slot(Group::once)];
    if (reads_.is(Read::home_without_axes, "refuse"))
      return fail("home", column, 3, what + "nothing, or all axes", "post the axes");
    const bool all = reads_.is(Read::home_without_axes, "all");
    assume(Read::home_without_axes, column, 3, what + (all ? "all axes" : "none"));
    if (!all) return true;
  }
  if (second && block.take('P')) {
    int position = 2;
    if (!whole(block, 'P', 2, 2, position)) return false;
  }
  if (any && !in_reach(block, through)) return false;
  series_ = {};
  if (any) emit_straight(through, 0, true, &block);
  Vec3 to = options_.start;
  const std::optional<Vec3> zero =
      options_.zero_in_machine ? options_.zero_in_machine
                               : (strict() ? std::optional<Vec3>(Vec3::Zero()) : std::nullopt);
  if (zero) {
    const int first = second ? 5181 : 5161;
    for (int k = 0; k < 3; ++k) to[k] = to_mm(parameters_.get(first + k)) - (*zero)[k];
  } else {
    fail("machine-position-unknown", g_column_[slot(Group::once)], 3,
         "home is taken to be where the program started",
         "give zero_in_machine in the setup to have it checked");
  }
  if (any && !strict()) {
    for (int k = 0; k < 3; ++k) {
      if (!block.has(axis_letters[static_cast<std::size_t>(k)])) to[k] = position_[k];
    }
  }
  emit_straight(to, 0, true, any && !strict() ? &block : nullptr);
  return true;
}

bool Interpreter::set_offsets(const Block& block) {
  const std::size_t column = g_column_[slot(Group::once)];
  int kind = 0, system = 0;
  block.take_all("LP");
  if (!block.has('L') || !block.has('P')) return fail("g10", column, 3, "G10 needs L and P");
  if (!whole(block, 'L', 0, 100, kind)) return false;
  if (!means_the_same_by_increments("g10", column, "G10")) return false;
  if (!strict() && kind >= 10 && kind <= 13) return tool_table(block, kind);
  if (kind != 2 && (kind != 20 || strict())) {
    return fail("g10", column, 3, fmt::format("G10 L{} is not understood", kind));
  }
  const bool further = kind == 20 && reads_.is(Read::g10_l20, "further-offsets");
  if (!whole(block, 'P', further ? 1 : 0, further ? 300 : 9, system)) return false;
  if (further) {
    system += 100;
  } else if (kind == 20) {
    assume(Read::g10_l20, column, 3, "G10 L20 makes the tool's place read as its words say");
  }
  if (system == 0 && kind == 2 && !strict()) {
    return fail("g10", column, 3,
                "P0 of G10 L2 is the work offset in force on some controls, and a shift of all of "
                "them on others",
                "post P1 to P9; or give the shift in the job");
  }
  if (system == 0 && !strict()) system = state_.work_offset;
  if (system == 0) return fail("g10", column, 3, "G10 needs P from 1 to 9");
  if (scaling_ || mirroring_ || (kind == 20 && !further && rotated_))
    return frame_may_change(column, "G10");
  if (!block.any(axis_letters)) {
    reporter_.of("G10");
    return fail("word-unused", column, 3,
                fmt::format("G10 L{} without X, Y, Z sets nothing", kind));
  }
  block.take_all(axis_letters);
  if (!options_.zero_in_machine && !strict()) {
    fail("work-offset-changed", column, 3,
         "the program sets work offsets; without the zero's machine position they are taken from "
         "the setup's zero",
         "give zero_in_machine in the setup, or leave offsets to the job file");
  }
  const bool from_machine = kind == 2 || further;
  const Vec3 base =
      options_.zero_in_machine && from_machine ? *options_.zero_in_machine : Vec3(Vec3::Zero());
  Vec3& offset = offset_of(system);
  const Vec3 now = position_ - (zero_ - offset_of(state_.work_offset));
  for (int k = 0; k < 3; ++k) {
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (!block.has(letter)) continue;
    const double v = to_mm(block[letter]);
    offset[k] = from_machine ? v - base[k] : now[k] - v;
    if (system < 10) parameters_.set(5201 + 20 * system + k, block[letter]);
  }
  settle_zero();
  return true;
}

// G10 L10 to L13 P R: length, its wear, diameter, its wear in the control's tables (practice).
bool Interpreter::tool_table(const Block& block, int kind) {
  const std::size_t column = g_column_[slot(Group::once)];
  int number = 0;
  if (!whole(block, 'P', 1, 99999, number)) return false;
  if (!block.take('R')) return fail("g10", column, 3, fmt::format("G10 L{} without R", kind));
  const double value = to_mm(block['R']);
  if (kind == 10) {
    return fail_at(block, 'R', "length-offset-set",
                   fmt::format("the program sets the length in H{}: the tip is taken to be right "
                               "all the same",
                               number),
                   "measure it at the machine");
  }
  if (kind == 11) {
    fail("length-offset-set", column, 3,
         fmt::format("the program sets the wear in H{} to {:g} mm", number, value));
    table_h_[number].wear = value;
    return true;
  }
  if (reads_.is(Read::g10_diameter, "refuse")) {
    return fail("g10", column, 3, fmt::format("R of G10 L{} is a diameter or a radius", kind),
                "say machine.reads.g10_diameter in the job");
  }
  const double diameter = reads_.is(Read::g10_diameter, "radius") ? 2 * value : value;
  fail("diameter-offset-set", column, 3,
       fmt::format("the program sets the {} in D{} to {:g} mm",
                   kind == 12 ? "diameter" : "diameter's wear", number, diameter));
  OffsetEntry& entry = table_d_[number];
  if (kind == 12)
    entry.diameter = diameter;
  else
    entry.wear = diameter;
  return true;
}

// G52: a shift of all work offsets, by the axes given; 0 takes it away (practice).
bool Interpreter::local_shift(const Block& block) {
  const std::size_t column = g_column_[slot(Group::once)];
  if (strict()) return fail("g-code-unknown", column, 3, "the report has no G52");
  if (!block.any(axis_letters))
    return fail("axis-words-missing", column, 3, "G52 without axis words");
  if (!block.only_zeros(axis_letters) &&
      !means_the_same_by_increments("work-offset", column, "G52"))
    return false;
  if ((scaling_ || mirroring_ || compensation_.on() || rotated_) &&
      !frame_may_change(column, "G52"))
    return false;
  for (int k = 0; k < 3; ++k) {
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (block.take(letter)) local_shift_[k] = to_mm(block[letter]);
  }
  settle_zero();
  return true;
}

bool Interpreter::shift_zero(const Block& block, int code) {
  if (compensation_.on())
    return fail("compensation", 0, 1, "no shift of the zero while cutter compensation is on");
  const bool shifts = code == 920 || code == 923 || shift_ != Vec3::Zero();
  if (scaling_ || mirroring_ || (rotated_ && shifts))
    return frame_may_change(g_column_[slot(Group::once)], "G92");
  if (code == 920) {
    if (!block.any(axis_letters) && (strict() || !block.any("ABCUVW"))) {
      return fail("axis-words-missing", g_column_[slot(Group::once)], 3, "G92 without axis words");
    }
    if (!strict())
      fail("g92-used", g_column_[slot(Group::once)], 3, "G92 shifts the zero from here on",
           "make sure the control clears it: it stays after the program on many machines");
    const Vec3 base = zero_ - shift_;
    block.take_all(axis_letters);
    for (int k = 0; k < 3; ++k) {
      const char letter = axis_letters[static_cast<std::size_t>(k)];
      if (!block.has(letter)) continue;
      shift_[k] = position_[k] - base[k] - to_mm(block[letter]);
      parameters_.set(5211 + k, shift_[k] / scale_);
    }
    kept_shift_ = shift_;
  } else if (code == 921) {
    shift_ = kept_shift_ = Vec3::Zero();
    for (int k = 0; k < 3; ++k) parameters_.set(5211 + k, 0);
  } else if (code == 922) {
    shift_ = Vec3::Zero();
  } else {
    shift_ = kept_shift_;
  }
  settle_zero();
  return true;
}

void Interpreter::stops(const Block&) {
  if (m_stop_ < 0) return;
  if (m_stop_ == 2 || m_stop_ == 30) {
    event(EventKind::program_end);
    ended_ = true;
    behind_ = at_;
    return;
  }
  event(EventKind::stop, m_stop_);
}

}  // namespace proveout::nc
