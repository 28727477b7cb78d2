// Every word counts: what the line's codes have not used is reported, and what depends on how a
// control reads is said.
#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

constexpr std::string_view rotary_letters = "ABCUVW";

std::size_t slot(Group g) { return static_cast<std::size_t>(g); }

// What the word would do where something took it; empty: nothing that moves.
std::string_view could(char letter) {
  switch (letter) {
    case 'H':
      return "shift the tool's length";
    case 'I':
    case 'J':
    case 'K':
    case 'R':
      return "shape the path";
    case 'L':
      return "repeat the line";
    case 'P':
      return "wait, or name what is called";
    case 'Q':
      return "divide a depth, or shift the tool";
    default:
      return {};
  }
}

}  // namespace

void Interpreter::assume(Read which, std::size_t column, std::size_t length, std::string text) {
  const auto k = static_cast<std::size_t>(which);
  if (reads_.declared(which) || strict() || reporter_.failed()) return;
  const ReadChoice& choice = read_choices()[k];
  const std::string said =
      fmt::format("{} (machine.reads.{} = \"{}\")", text, choice.key, reads_.chosen(which));
  reporter_.of(choice.key);
  fail("dialect-choice", column, length, said, "say in the job how the control reads it");
  if (std::exchange(assumed_once_[k], true)) return;
  assumed_.push_back({which, line_, std::move(text)});
}

double Interpreter::seconds_of(const Block& block, char letter, Read which) {
  const double v = block[letter];
  block.take(letter);
  const bool milliseconds = reads_.is(which, "milliseconds") ||
                            (reads_.is(which, "by-point") && !block.has_point(letter));
  const double seconds = milliseconds ? v / 1000 : v;
  const std::size_t column = block.column[static_cast<std::size_t>(letter - 'A')];
  if (v != 0) {
    assume(which, column, 2, fmt::format("{}{:g} is taken as {:g} s", letter, v, seconds));
  }
  if (!block.has_point(letter)) tell_of_long_wait(block, letter, which, seconds);
  return seconds;
}

// A whole number without a point is milliseconds on some controls.
void Interpreter::tell_of_long_wait(const Block& block, char letter, Read which, double seconds) {
  if (strict() || reads_.declared(which) || seconds < 100) return;
  const std::string_view key = read_choices()[static_cast<std::size_t>(which)].key;
  reporter_.of(key);
  fail_at(
      block, letter, "dwell-long", fmt::format("a wait of {:g} s", seconds),
      fmt::format("where the control means milliseconds, say machine.reads.{} in the job", key));
}

// Words of A, B, C, U, V, W: while nothing turns they move nothing; a turn is a setup of its own.
bool Interpreter::rotary_words(const Block& block) {
  const int once_code = g_[slot(Group::once)];
  if (once_code == 280 || once_code == 300 || once_code == 40) return true;
  for (std::size_t k = 0; k < rotary_letters.size(); ++k) {
    const char letter = rotary_letters[k];
    if (!block.has(letter) || (block.used >> (letter - 'A') & 1)) continue;
    if (letter == 'C' && reads_.is(Read::corners, "plain")) continue;
    const double to = absolute_ || once_code == 530 ? block[letter] : rotary_[k] + block[letter];
    block.take(letter);
    if (once_code == 920) {
      rotary_[k] = block[letter];  // G92 gives the place a number, and moves nothing
    } else if (!(std::abs(to - rotary_[k]) < 1e-9)) {
      return fail_at(block, letter, "rotary-axis",
                     fmt::format("{}{:g} moves {}", letter, block[letter],
                                 k < 3 ? "a rotary axis: the work lies another way behind it"
                                       : "an axis besides X, Y and Z"),
                     k < 3 ? "split the program here and give each part a setup of its own, with "
                             "its turn"
                           : "post X, Y and Z");
    }
    reporter_.of(std::string_view(&letter, 1));
    fail_at(block, letter, "rotary-idle",
            fmt::format("{}{:g} moves nothing: the axis is taken to stand there", letter,
                        block[letter]));
  }
  return true;
}

// G28 A0 and the like: the axis named goes home, and no other. The linear ones besides X, Y, Z may
// be these by increments.
bool Interpreter::rotary_at_home(const Block& block) {
  for (std::size_t k = 0; k < rotary_letters.size(); ++k) {
    const char letter = rotary_letters[k];
    if (!block.take(letter)) continue;
    const double to = absolute_ ? block[letter] : rotary_[k] + block[letter];
    if (k >= 3 || std::abs(to) > 1e-9) {
      return fail_at(block, letter, "rotary-axis",
                     k < 3 ? fmt::format("{} turns to {:g} on its way home", letter, to)
                           : fmt::format("{} is a further axis, or another name for X, Y or Z by "
                                         "increments",
                                         letter),
                     k < 3 ? "split the program here and give each part a setup of its own"
                           : "post G91 G28 with X, Y, Z");
    }
    rotary_[k] = 0;
    reporter_.of(std::string_view(&letter, 1));
    fail_at(block, letter, "rotary-idle",
            fmt::format("{} goes home: it is taken to stand there", letter));
  }
  return true;
}

// T alone changes the tool on some controls; here M6 does, so that a T no M6 follows is told of: at
// the next T, or at the end, but for the first tool made ready for the next piece.
void Interpreter::name_tool(const Block& block, int number) {
  if (strict()) return;
  if (named_tool_ && named_tool_->number != number) tell_of_named_tool();
  named_tool_.reset();
  if (number != state_.tool) named_tool_ = {number, context_.text, line_, block.column['T' - 'A']};
}

void Interpreter::tell_of_named_tool() {
  if (reporter_.failed()) return;
  reporter_.of(std::to_string(named_tool_->number));
  reporter_.report(
      "tool-not-changed", named_tool_->text, named_tool_->line, named_tool_->column, 2,
      fmt::format("T{} is named and no M6 puts it into the spindle", named_tool_->number),
      "post M6 with it; some controls change the tool at T alone");
}

// Behind a change of tool or of length: whether what is in force is another tool's or none, where
// the program works with lengths.
void Interpreter::watch_length() {
  const int number = state_.length_offset;
  length_doubt_ = length_used_ && state_.tool != 0 && !strict() &&
                  (number == 0 || owner_of(table_h_, number) != state_.tool);
}

void Interpreter::tell_of_length(const Block& block) {
  if (!length_doubt_ || !block.has('Z')) return;
  length_doubt_ = false;
  const int number = state_.length_offset;
  const int tool = state_.tool;
  reporter_.of(fmt::format("{} {}", number, tool));
  if (number == 0) {
    fail_at(
        block, 'Z', "length-offset-ended",
        fmt::format("no tool length is in force here: on the control Z{:g} is where the spindle "
                    "goes, and T{} stands out below it; the tip is taken to be right all the "
                    "same",
                    block['Z'], tool),
        "post G43 H with the tool's number before it");
    return;
  }
  fail_at(block, 'Z', "length-offset-other-tool",
          fmt::format("H{} is still in force while T{} is in the spindle: the tip is taken to be "
                      "right all the same",
                      number, tool),
          "post G43 H with the tool's own number behind the change");
}

// The first move behind G68 or G16 that gives one of X and Y: the other is where the tool stands,
// seen in the new coordinates, or the number last written; told where these differ.
void Interpreter::tell_of_half_a_place(const Block& block) {
  if (half_a_place_ == 0 || !(rotated_ || polar_) || !absolute_ || strict()) return;
  if (!block.any("XY")) return;
  half_a_place_ &= (block.has('X') ? 2u : 3u) & (block.has('Y') ? 1u : 3u);
  if (std::exchange(half_a_place_, 0u) == 0) return;
  const Vec3 here = to_program(position_), plain = position_ - origin();
  const bool has_x = block.has('X');
  const bool differs = polar_ ? (has_x ? std::abs(std::atan2(here.y(), here.x())) > 1e-9
                                       : std::abs(here.head<2>().norm() - here.x()) > 1e-9)
                              : std::abs(here[has_x ? 1 : 0] - plain[has_x ? 1 : 0]) > 1e-9;
  if (!differs) return;
  const char given = has_x ? 'X' : 'Y', other = has_x ? 'Y' : 'X';
  fail_at(
      block, given, "rotation-half-given",
      fmt::format("the first move of {} coordinates gives {} alone: {} is taken to be where the "
                  "tool stands, and is the number last written on some controls",
                  polar_ ? "polar" : "turned", given, other),
      "post X and Y with the first move");
}

// The first move behind cutter compensation that gives one of X and Y. beside: mm, where the tool
// stands off the programmed place.
void Interpreter::tell_of_half_an_exit(const Block& block, const Vec3& beside) {
  if (strict() || rotated_ || polar_ || (block.has('X') && block.has('Y'))) return;
  const char given = block.has('X') ? 'X' : 'Y', other = block.has('X') ? 'Y' : 'X';
  const double off = std::abs(beside[given == 'X' ? 1 : 0]);
  if (off < 1e-6) return;
  fail_at(block, given, "compensation-half-left",
          fmt::format("the first move behind cutter compensation gives {} alone: {} goes {:.4g} mm "
                      "to the programmed place with it, and stays beside it on some controls",
                      given, other, off),
          "post X and Y with the first move behind G40");
}

bool Interpreter::account(const Block& block) {
  if (block.corner.size && !block.corner_used) {
    return fail("corner", block.corner.column, 2,
                "a corner word on a line without a straight feed move");
  }
  if (feed_mode_ == FeedMode::inverse_time && block.has('F') && !feed_used_) {
    fail_at(block, 'F', "feed-on-rapid-only", "in inverse time (G93) this F is used by no move");
  }
  if (polar_ && block.has('Y') && !takes_axis_words() && g_[slot(Group::once)] != 530 &&
      to_program(position_).head<2>().norm() < 1e-9) {
    reporter_.of("G16 Y");
    fail_at(block, 'Y', "word-unused",
            fmt::format("at radius 0 the angle Y{:g} says nothing", block['Y']));
  }
  const std::uint32_t unused = block.present & ~block.used;
  for (char letter = 'A'; unused != 0 && letter <= 'Z'; ++letter) {
    if ((unused >> (letter - 'A') & 1) == 0) continue;
    const std::string word = fmt::format("{}{:g}", letter, block[letter]);
    if (std::string_view("XYZABCUVW").find(letter) != std::string_view::npos) {
      return fail_at(block, letter, "axis-words-contested",
                     fmt::format("nothing on this line takes {}", word),
                     "give the move a line of its own");
    }
    if (letter == 'E') {
      return fail_at(block, letter, "letter-not-allowed",
                     fmt::format("{}: E is no word of milling", word),
                     "a second feed in ISO 6983, a filament elsewhere: post for milling");
    }
    reporter_.of(std::string_view(&letter, 1));
    const std::string_view might = could(letter);
    if (!might.empty() && !(letter == 'K' && block['K'] == 0) &&
        !(letter == 'H' && block['H'] == 0)) {
      if (!fail_at(block, letter, "word-idle",
                   fmt::format("nothing on this line uses {}, which may {} on some controls", word,
                               might),
                   "take it out, or post the code it belongs to"))
        return false;
      continue;
    }
    fail_at(block, letter, "word-unused", fmt::format("nothing on this line uses {}", word));
  }
  return true;
}

// Goes on behind an error as if the line had done what its words say, so that later mistakes are
// found and none are told of that only follow from this one.
void Interpreter::recover(const Block& block) {
  bool any = false;
  const Vec3 to = target(block, any);
  const bool straight = motion_mode_ <= 30;
  if (any && straight && to.allFinite() && within_reach(to)) position_ = to;
  if (any && !straight) doubt_ |= Doubt::place;
  if (block.has('F') && block['F'] > 0) {
    feed_ = block['F'];
    feed_given_ = true;
  }
  if (compensation_.on()) compensation_.end([](const Motion&) {});
  corner_.reset();
  if (motion_mode_ > 30) {
    motion_mode_ = 0;
    doubt_ |= Doubt::mode;
  }
  tool_at_.reset();
}

// A place given in full is in doubt no longer.
void Interpreter::settle_doubt(const Block& block) {
  for (unsigned k = 0; k < 3; ++k) {
    if (absolute_ && motion_mode_ <= 30 && block.has("XYZ"[k])) doubt_ &= ~(1u << k);
  }
}

std::string Interpreter::modes_in_words() const {
  std::string out;
  const auto vector = [&](const Vec3& v) {
    out += fmt::format(" [{} {} {}]", v.x(), v.y(), v.z());
  };
  const auto sticky = [&](const std::optional<double>& v) {
    out += v ? fmt::format(" {}", *v) : " -";
  };
  for (const Vec3* v : {&position_, &zero_, &shift_, &kept_shift_, &local_shift_, &factor_, &about_,
                        &rotation_centre_})
    vector(*v);
  for (const Vec3& v : offsets_) vector(v);
  for (const auto& [number, v] : further_offsets_) {
    out += fmt::format(" G54.1P{}", number);
    vector(v);
  }
  for (const auto& table : {table_d_, table_h_}) {
    for (const auto& [number, e] : table) {
      out += fmt::format(" {}:{}+{}", number, e.diameter.value_or(-1), e.wear);
    }
    out += ';';
  }
  for (const double v : rotary_) out += fmt::format(" {}", v);
  for (const auto* v : {&sticky_.retract, &sticky_.depth, &sticky_.peck, &sticky_.dwell, &sticky_.i,
                        &sticky_.j, &sticky_.k})
    sticky(*v);
  out += fmt::format(" {} {} {} {}", sticky_.retract_level, sticky_.depth_level, old_level_,
                     rotation_);
  for (int i = 1; i <= Parameters::last; ++i) {
    if (parameters_.is_set(i)) out += fmt::format(" #{}={}", i, parameters_.get(i));
  }
  out += fmt::format(" {} {} {} {} {} {} {} {} {} {} {} {} {} {} {}", motion_mode_,
                     static_cast<int>(plane_), absolute_, absolute_arcs_, return_to_old_,
                     static_cast<int>(feed_mode_), feed_, scale_, next_tool_, tool_word_, rotated_,
                     polar_, compensation_.on(), d_word_, tip_shift_);
  out += ' ' + compensated_at_end_;
  const ModalState& s = state_;
  out += fmt::format(" {} {} {} {} {} {} {} {} {} {} {}", s.tool, s.length_offset, s.spindle_rpm,
                     static_cast<int>(s.turn), s.mist, s.flood, static_cast<int>(s.path_control),
                     s.path_tolerance, s.work_offset, ended_, at_ >= text_.size());
  return out;
}

}  // namespace proveout::nc
