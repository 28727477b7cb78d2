// Numbers without a decimal point. A control reads X100 as 100 mm or as 100 of its least increment,
// by how it is set: machine.reads.lengths_without_point, and feeds_without_point for F. Common
// practice, no source.
#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <utility>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

std::size_t slot(Group g) { return static_cast<std::size_t>(g); }

constexpr std::uint32_t bits(std::string_view letters) {
  std::uint32_t out = 0;
  for (const char c : letters) out |= 1u << (c - 'A');
  return out;
}

constexpr std::uint32_t all_lengths = bits("IJKQRUVWXYZ");
// Their moves are refused however their number is read.
constexpr std::uint32_t further_axes = bits("ABUVW");
constexpr double steps_of_angle = 1000;  // a degree

const char* unit_word(bool inch, double value) {
  return !inch ? "mm" : value == 1 ? "inch" : "inches";
}

const char* unit_word(bool inch, bool angle, double value) {
  return !angle ? unit_word(inch, value) : value == 1 ? "degree" : "degrees";
}

// A word of a line without its white space.
std::string written(std::string_view text, std::size_t column, std::size_t length) {
  std::string out(text.substr(column, length));
  std::erase_if(out, [](char c) { return c == ' ' || c == '\t'; });
  return out;
}

}  // namespace

// What the line's codes take for lengths and for angles, bit by letter. Times, counts, factors and
// numbers of things are neither, and stay as written.
Interpreter::WordKinds Interpreter::word_kinds(const Block& block) const {
  WordKinds kinds{all_lengths, bits("ABC")};
  const auto code = [this](Group g) { return g_[slot(g)]; };
  const auto neither = [&](std::string_view letters) { kinds.lengths &= ~bits(letters); };
  const auto angle = [&](std::string_view letters) {
    neither(letters);
    kinds.angles |= bits(letters);
  };
  const int once_code = code(Group::once);
  if (once_code == 650) return kinds;
  const int motion = code(Group::motion) >= 0 ? code(Group::motion) : motion_mode_;
  const bool pocket = once_code == 120 || once_code == 130;
  if (motion >= 730 && motion != 800 && motion != 870 && !pocket) neither("K");  // repeats
  if (once_code == 40) neither("X");                                             // a time
  if (m_call_ == 98) neither("Q");                                               // a block
  for (int i = 0; i < block.g_count; ++i) {
    if (block.g[static_cast<std::size_t>(i)].tenths == 51) neither("QR");  // G5.1: switches
  }
  if (code(Group::scaling) == 510) neither("IJK");
  if (code(Group::rotation) == 680) angle("R");
  if (code(Group::doubtful) == 700) angle("J");
  const bool polar = code(Group::polar) == 160 || (polar_ && code(Group::polar) != 150);
  if (polar && !takes_axis_words() && once_code != 530) angle("Y");
  if (reads_.is(Read::corners, "plain")) {
    kinds.angles &= ~bits("C");
    kinds.lengths |= bits("C");
  }
  return kinds;
}

// Gives the numbers without a point their worth in file units, where the job says they count steps.
// A division, so that the double is that of the text with its point.
void Interpreter::settle_numbers(Block& block) {
  const std::uint32_t bare = block.present & ~block.pointed;
  bare_ = {};
  if (bare == 0 && block.corner.pointed) return;
  const WordKinds kinds = word_kinds(block);
  bare_ = {bare & kinds.lengths, bare & kinds.angles};
  const int unit_code = g_[slot(Group::units)];
  const bool inch = unit_code >= 0 ? unit_code == 200 : scale_ != 1;
  const double steps_of_length = inch ? 10000 : 1000;
  if (lengths_are_steps_) {
    for (std::uint32_t k = 0; k < 26; ++k) {
      if ((bare_.lengths >> k & 1) != 0) block.value[k] /= steps_of_length;
      if ((bare_.angles >> k & 1) != 0) block.value[k] /= steps_of_angle;
    }
    if (block.corner.size && !block.corner.pointed) *block.corner.size /= steps_of_length;
  }
  if ((bare & bits("F")) != 0 && g_[slot(Group::once)] != 650) settle_feed(block, inch);
}

void Interpreter::settle_feed(Block& block, bool inch) {
  const int code = g_[slot(Group::feed_mode)];
  const bool inverse = code >= 0 ? code == 930 : feed_mode_ == FeedMode::inverse_time;
  const bool per_turn = code >= 0 ? code == 950 : feed_mode_ == FeedMode::per_turn;
  if (inverse || block['F'] == 0) return;  // one over minutes is no feed
  const double written = block['F'];
  double& value = block.value['F' - 'A'];
  if (reads_.is(Read::feeds_without_point, "feed-increment")) {
    value /= per_turn ? (inch ? 10000 : 100) : (inch ? 100 : 1);
  } else if (reads_.is(Read::feeds_without_point, "least-increment")) {
    value /= inch ? 10000 : 1000;
  }
  // In mm/min posts leave the point out everywhere, which is told of only where the control is one
  // that counts steps.
  if (!inch && !per_turn && !lengths_are_steps_) return;
  feed_told_ = true;
  assume(Read::feeds_without_point, block.column['F' - 'A'], 1,
         fmt::format("F{:g}, without a point, is taken as {:g} {} a {}", written, value,
                     unit_word(inch, value), per_turn ? "turn" : "minute"));
}

// Behind a line: what it has taken numbers for. The first of them without a point, and how many
// whole numbers have one, is kept for the end, where all are known.
void Interpreter::watch_numbers(const Block& block) {
  const bool argument = g_[slot(Group::once)] == 650;
  if (lengths_declared_) {
    if (argument) tell_of_arguments(block);
    return;
  }
  const std::uint32_t not_lengths =
      reads_.is(Read::corners, "plain") ? further_axes : further_axes | bits("C");
  const std::uint32_t used = (bare_.lengths | bare_.angles) & block.used & ~not_lengths;
  WordAt first = used == 0 ? WordAt{} : leftmost(block, used);
  const CornerWord& corner = block.corner;
  const bool bare_corner = corner.size && !corner.pointed && *corner.size != 0;
  if (bare_corner && first.length == 0)
    first = {context_.text, line_, corner.column, corner.end - corner.column, *corner.size, ','};
  if (argument) {
    if (first.length == 0) return;
    assume(Read::lengths_without_point, first.column, first.length,
           "arguments of a macro without a point are passed as they are written");
    return;
  }
  std::uint32_t padded = 0;
  if ((block.padded & block.used) != 0 && (numbers_.shown.length == 0 || manner_open())) {
    const WordKinds kinds = word_kinds(block);
    padded = block.padded & block.used & (kinds.lengths | kinds.angles) & ~not_lengths;
  }
  if ((used | padded) == 0 && !bare_corner) return;
  if (numbers_.shown.length == 0) numbers_.shown = leftmost(block, padded);
  const std::uint32_t bare = not_zero(block, used);
  constexpr std::uint32_t places = bits("XYZ");
  count_numbers(std::popcount(bare & places), std::popcount(padded & places),
                std::popcount(bare) + (bare_corner ? 1 : 0), std::popcount(padded));
  if (first.length == 0) return;
  keep_huge(block, bare & bare_.lengths);
  if (numbers_.first.length != 0) return;
  numbers_.first = first;
  numbers_.angle = first.letter != ',' && (bare_.angles & bits({&first.letter, 1})) != 0;
  numbers_.inch = scale_ != 1;
}

// Whether a length without a point, in file units, is more than its word can be for in whole units:
// no bench has 3 m of way, none has half a metre downwards, and no step of a cycle is as deep.
bool Interpreter::beyond_use(char letter, double value) const {
  const bool down = letter == 'Z' || letter == 'K' || letter == 'Q';
  return std::abs(to_mm(value)) > (down ? 500 : 3000);
}

void Interpreter::keep_huge(const Block& block, std::uint32_t lengths) {
  if (numbers_.huge.length != 0) return;
  std::uint32_t beyond = 0;
  for (char letter = 'A'; letter <= 'Z'; ++letter) {
    const std::uint32_t bit = bits({&letter, 1});
    if ((lengths & bit) != 0 && beyond_use(letter, block[letter])) beyond |= bit;
  }
  numbers_.huge = leftmost(block, beyond);
  numbers_.huge_inch = scale_ != 1;
}

// Of the words in that set those whose number is not 0.
std::uint32_t Interpreter::not_zero(const Block& block, std::uint32_t set) {
  std::uint32_t out = 0;
  for (std::uint32_t k = 0; k < 26; ++k) out |= block.value[k] != 0 ? set & 1u << k : 0;
  return out;
}

// The first on the line of the words in that set whose number is not 0; of no length: none.
Interpreter::WordAt Interpreter::leftmost(const Block& block, std::uint32_t set) const {
  WordAt found;
  for (std::uint32_t k = 0; k < 26; ++k) {
    if ((set >> k & 1) == 0 || block.value[k] == 0) continue;
    if (found.length != 0 && block.column[k] >= found.column) continue;
    found = {context_.text,   line_,
             block.column[k], block.end[k] - block.column[k],
             block.value[k],  static_cast<char>('A' + k)};
  }
  return found;
}

void Interpreter::tell_of_arguments(const Block& block) {
  if (!lengths_are_steps_) return;
  for (char letter = 'A'; letter <= 'Z'; ++letter) {
    if (((bare_.lengths | bare_.angles) & bits({&letter, 1})) == 0 || block[letter] == 0) continue;
    reporter_.of(std::string_view(&letter, 1));
    fail_at(
        block, letter, "argument-without-point",
        fmt::format("this {} without a point is passed to the macro as {:g}; some controls pass "
                    "the number as it is written",
                    letter, block[letter]),
        "write the point");
  }
}

// Whether nearly all of its whole numbers go without a point, or of its X, Y and Z, however its
// other words are printed: such a program counts on whole units, and its few points are a habit of
// hand or post. Four in five, and at least four: nobody leaves the point out that often by mistake.
bool Interpreter::written_by_whole_units() const {
  const auto nearly_all = [](std::uint64_t bare, std::uint64_t padded) {
    return bare >= 4 && bare >= 4 * padded;
  };
  return nearly_all(numbers_.bare_places, numbers_.padded_places) ||
         (numbers_.padded_places == 0 && nearly_all(numbers_.bare, numbers_.padded));
}

// At the end: one line where the choice matters, a warning where the program itself shows that it
// puts points on whole numbers, so that one without may be a slip, and one where a number is too
// large to be in whole units.
void Interpreter::tell_of_numbers() {
  const WordAt& first = numbers_.first;
  if (first.length == 0 || reporter_.failed()) return;
  const ReadChoice& choice = read_choices()[static_cast<std::size_t>(Read::lengths_without_point)];
  const std::string taken = fmt::format(
      "{}, without a point, is taken as {:g} {}", written(first.text, first.column, first.length),
      first.value, unit_word(numbers_.inch, numbers_.angle, first.value));
  if (!std::exchange(assumed_once_[static_cast<std::size_t>(choice.which)], true))
    assumed_.push_back({choice.which, first.line, taken});
  const WordAt& shown = numbers_.shown;
  const WordAt& huge = numbers_.huge;
  const bool slip = shown.length != 0 && !written_by_whole_units();
  if (slip) {
    warn_of_number(first, numbers_.inch, numbers_.angle,
                   fmt::format("this program has points on whole numbers ({} on line {})",
                               written(shown.text, shown.column, shown.length), shown.line));
  }
  if (huge.length != 0 && (!slip || huge.line != first.line || huge.column != first.column))
    warn_of_number(huge, numbers_.huge_inch, false, "that is more than such a word is for");
  if (slip || huge.length != 0) return;
  reporter_.of(choice.key);
  reporter_.report(
      "dialect-choice", first.text, first.line, first.column, first.length,
      fmt::format("{} (machine.reads.{} = \"{}\")", taken, choice.key, reads_.chosen(choice.which)),
      "say in the job how the control reads it");
}

void Interpreter::warn_of_number(const WordAt& word, bool inch, bool angle,
                                 const std::string& why) {
  const ReadChoice& choice = read_choices()[static_cast<std::size_t>(Read::lengths_without_point)];
  const double in_steps = word.value / (inch && !angle ? 10000 : steps_of_angle);
  std::string what = fmt::format(
      "{}, without a point, is taken as {:g} {}; {}, and controls that count steps take it as "
      "{:g} {}",
      written(word.text, word.column, word.length), word.value, unit_word(inch, angle, word.value),
      why, in_steps, unit_word(inch, angle, in_steps));
  const std::uint64_t further = numbers_.lines - 1;
  if (further > 0)
    what +=
        fmt::format("; {} further line{} such a number", further, further == 1 ? " has" : "s have");
  reporter_.of(&word == &numbers_.huge ? "huge" : "slip");
  reporter_.report("point-missing", word.text, word.line, word.column, word.length, what,
                   fmt::format("write the point, or say machine.reads.{} in the job", choice.key));
}

}  // namespace proveout::nc
