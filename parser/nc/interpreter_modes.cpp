// Waits, tools, spindle, units, offsets: what a block sets before anything moves.
#include <fmt/format.h>

#include <cmath>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

constexpr std::string_view axis_letters = "XYZ";

std::size_t slot(Group g) { return static_cast<std::size_t>(g); }

}  // namespace

bool Interpreter::tool_words(const Block& block) {
  if (block.has('S')) {
    if (block['S'] < 0)
      return fail_at(block, 'S', "value-negative", "a spindle speed must not be negative");
    if (state_.spindle_rpm != block['S']) {
      state_.spindle_rpm = block['S'];
      if (state_.turn != SpindleTurn::stopped && m_spindle_ < 0) event(EventKind::spindle);
    }
  }
  if (block.has('T')) {
    int number = 0;
    if (!whole(block, 'T', 0, 99999, number)) return false;
    next_tool_ = number;
    tool_word_ = true;
  }
  if (m_tool_ == 6) {
    if (!tool_word_) {
      return fail("tool-change-without-number", m_column_, 2, "M6 before any T word names a tool",
                  "post T with the tool's number on or before this line");
    }
    state_.turn = SpindleTurn::stopped;
    state_.tool = next_tool_;
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

bool Interpreter::dwell(const Block& block) {
  if (g_[slot(Group::once)] != 40) return true;
  double seconds = 0;
  if (block.has('P')) {
    seconds = block['P'];
    // A whole number without a point is milliseconds on some older controls; said, not assumed.
    if (!strict() && seconds >= 100 && !(block.pointed >> ('P' - 'A') & 1)) {
      fail_at(block, 'P', "dwell-word",
              fmt::format("G4 P{:g} is taken as {:g} s", seconds, seconds),
              "if the control means milliseconds, post a decimal point or seconds");
    }
  } else if (block.has('X') && !strict()) {
    seconds = block['X'];
    fail_at(block, 'X', "dwell-word", "a dwell time in X is taken as seconds");
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
  int number = state_.tool;
  if (block.has('D')) {
    if (!whole(block, 'D', 0, 99999, number)) return false;
  }
  double diameter = 0;
  if (number != 0) {
    const auto found = options_.tool_diameters.find(number);
    if (found == options_.tool_diameters.end()) {
      return fail("compensation", column, 3, fmt::format("there is no diameter for D{}", number),
                  "give the tool in the job's [[tools]]");
    }
    diameter = found->second;
  }
  int side = code == 410 ? 1 : -1;
  if (diameter < 0) {
    side = -side;
    diameter = -diameter;
  }
  compensation_.begin(side, diameter / 2, position_, strict());
  return true;
}

bool Interpreter::length_offset(const Block& block) {
  const int code = g_[slot(Group::tool_length)];
  const std::size_t column = g_column_[slot(Group::tool_length)];
  if (code == 490) {
    state_.length_offset = 0;
    return true;
  }
  // G43.1 with H alone takes the length from the table, as G43 does; with numbers of its own it
  // would move the tip.
  if (code == 431 && (strict() || !block.has('H') || block.any("XYZIJK"))) {
    return fail("length-offset", column, 5, "G43.1 sets the tool's length in the program",
                "post G43 H with the tool's number");
  }
  int number = state_.tool;
  if (block.has('H')) {
    if (!whole(block, 'H', 0, 99999, number)) return false;
  } else if (strict()) {
    return fail("length-offset", column, 3, "G43 without H");
  } else {
    fail("length-offset-missing", column, 3,
         "G43 without H takes the length of the tool in the spindle");
  }
  if (number != 0 && state_.tool != 0 && number != state_.tool && !strict()) {
    fail("length-offset-other-tool", column, 3,
         fmt::format(
             "G43 H{} while T{} is in the spindle: the tip is taken to be right all the same",
             number, state_.tool),
         "post H with the tool's own number");
  }
  state_.length_offset = number;
  return true;
}

// G68/G69 turn program coordinates about a point; G15/G16 read radius and angle. Common practice.
bool Interpreter::rotation(const Block& block) {
  const int turn = g_[slot(Group::rotation)], polar = g_[slot(Group::polar)];
  if ((turn >= 0 || polar >= 0) && strict()) {
    return fail("rotation", 0, 1, "the report has no rotation or polar words");
  }
  if (turn == 690) rotated_ = false;
  if (turn == 680) {
    if (plane_ != Plane::xy)
      return fail("rotation", g_column_[slot(Group::rotation)], 3,
                  "G68 is followed in the xy plane only");
    if (!block.has('R'))
      return fail("rotation", g_column_[slot(Group::rotation)], 3, "G68 without an angle R");
    Vec3 now = to_program(position_);
    rotation_centre_ = Vec3(block.has('X') ? to_mm(block['X']) : now.x(),
                            block.has('Y') ? to_mm(block['Y']) : now.y(), 0);
    rotation_ = block['R'] / deg_per_rad;
    rotated_ = true;
  }
  if (polar == 150) polar_ = false;
  if (polar == 160) {
    if (plane_ != Plane::xy)
      return fail("rotation", g_column_[slot(Group::polar)], 3,
                  "G16 is followed in the xy plane only");
    polar_ = true;
  }
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
    compensation_.end([this](const Motion& m) { emit(m); });
  }
  bool any = false;
  const Vec3 through = target(block, any);
  if (any && !in_reach(block, through)) return false;
  if (any) emit_straight(through, 0, true);
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
  emit_straight(to, 0, true);
  return true;
}

bool Interpreter::set_offsets(const Block& block) {
  const std::size_t column = g_column_[slot(Group::once)];
  int kind = 0, system = 0;
  if (!block.has('L') || !block.has('P')) return fail("g10", column, 3, "G10 needs L and P");
  if (!whole(block, 'L', 0, 100, kind) || !whole(block, 'P', 0, 9, system)) return false;
  if (kind != 2 && (kind != 20 || strict())) {
    return fail("g10", column, 3, fmt::format("G10 L{} is not understood", kind));
  }
  if (system == 0 && !strict()) system = state_.work_offset;
  if (system == 0) return fail("g10", column, 3, "G10 needs P from 1 to 9");
  if (!options_.zero_in_machine && !strict()) {
    fail("work-offset-changed", column, 3,
         "the program sets work offsets; without the zero's machine position they are taken from "
         "the setup's zero",
         "give zero_in_machine in the setup, or leave offsets to the job file");
  }
  const Vec3 base =
      options_.zero_in_machine && kind == 2 ? *options_.zero_in_machine : Vec3(Vec3::Zero());
  Vec3& offset = offsets_[static_cast<std::size_t>(system)];
  const Vec3 now = position_ - shift_;
  for (int k = 0; k < 3; ++k) {
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (!block.has(letter)) continue;
    const double v = to_mm(block[letter]);
    offset[k] = kind == 2 ? v - base[k] : now[k] - v;
    parameters_.set(5201 + 20 * system + k, block[letter]);
  }
  return true;
}

bool Interpreter::shift_zero(const Block& block, int code) {
  if (compensation_.on())
    return fail("compensation", 0, 1, "no shift of the zero while cutter compensation is on");
  if (code == 920) {
    if (!block.any(axis_letters)) {
      return fail("axis-words-missing", g_column_[slot(Group::once)], 3, "G92 without axis words");
    }
    if (!strict())
      fail("g92-used", g_column_[slot(Group::once)], 3, "G92 shifts the zero from here on",
           "make sure the control clears it: it stays after the program on many machines");
    const Vec3 base = offsets_[static_cast<std::size_t>(state_.work_offset)];
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
