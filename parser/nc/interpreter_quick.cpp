// The quick way through a line of nothing but N, G0, G1, X, Y, Z and F while the state is the usual
// one: nine of ten lines of posted code. It says nothing and decides nothing: whatever is not
// plainly right is left to the full reader, which starts again at the head of the line. Both must
// give the same motions, bit for bit; the tests run every fixture both ways.
#include <algorithm>
#include <bit>
#include <cmath>

#include "parser/nc/decimal.h"
#include "parser/nc/interpreter.h"

namespace proveout::nc {
namespace {

enum Word : unsigned { x_word = 1, y_word = 2, z_word = 4, f_word = 8, g_word = 16, n_word = 32 };

unsigned word_of(char c) {
  switch (c) {
    case 'X':
    case 'x':
      return x_word;
    case 'Y':
    case 'y':
      return y_word;
    case 'Z':
    case 'z':
      return z_word;
    case 'F':
    case 'f':
      return f_word;
    case 'G':
    case 'g':
      return g_word;
    case 'N':
    case 'n':
      return n_word;
    default:
      return 0;
  }
}

constexpr std::size_t longest_line = 256;  // longer ones get a note

struct QuickLine {
  unsigned words = 0;
  double place[3] = {0, 0, 0};  // by axis, file units
  double feed = 0;              // file units/min
  int motion_code = -1;         // 0 or 10 (G0, G1); -1: none
  int decimals = 0;             // most places behind the point of X and Y
  unsigned bare = 0;            // words without a point that are not 0
  int padded = 0;               // points on whole numbers but 0
};

// Whether a word is one of those that need no second thought; it is put into line.
bool take(QuickLine& line, unsigned word, double value, int whole_digits, bool pointed) {
  if ((line.words & word) != 0 || whole_digits > 8) return false;
  switch (word) {
    case x_word:
      line.place[0] = value;
      break;
    case y_word:
      line.place[1] = value;
      break;
    case z_word:
      line.place[2] = value;
      break;
    case f_word:
      if (!(value > 0)) return false;
      line.feed = value;
      break;
    case g_word:
      if (value == 0) {
        line.motion_code = 0;
      } else if (value == 1) {
        line.motion_code = 10;
      } else {
        return false;
      }
      break;
    default:  // N comes first, has at most five digits and no point
      if (line.words != 0 || pointed || whole_digits > 5 || std::signbit(value)) return false;
      break;
  }
  line.words |= word;
  return true;
}

// Reads up to the line's end; nullptr where the line is not of the plain kind. Else where the next
// begins. watch: whether to look for points on whole numbers.
const char* read_quick(const char* at, const char* end, bool watch, QuickLine& line) {
  const char* const begin = at;
  while (at < end) {
    const char c = *at;
    if (c == ' ') {
      ++at;
      continue;
    }
    if (c == '\n') break;
    if (c == '\r') {
      if (at + 1 < end && at[1] == '\n') {
        ++at;
        break;
      }
      return nullptr;
    }
    const unsigned word = word_of(c);
    if (word == 0) return nullptr;
    double value = 0;
    int whole_digits = 0;
    bool pointed = false;
    const char* const number = at + 1;
    at = read_decimal(number, end, value, whole_digits, pointed);
    if (at == nullptr || !take(line, word, value, whole_digits, pointed)) return nullptr;
    if (!pointed) {
      if (value != 0) line.bare |= word;
    } else if (watch && word <= z_word && (at[-1] == '.' || at[-1] == '0') && value != 0 &&
               value == static_cast<double>(static_cast<std::int64_t>(value))) {
      ++line.padded;
    }
    if (pointed && word <= y_word) {
      // Behind the number: its whole digits, the point and perhaps a sign are no places of it.
      const bool sign = *number == '-' || *number == '+';
      const int places = static_cast<int>(at - number) - whole_digits - 1 - (sign ? 1 : 0);
      if (places > line.decimals) line.decimals = places;
    }
    if (word == n_word && (*number == '+' || *number == '-' || at - number > 5)) return nullptr;
    if (at < end && *at == ' ') {
      // A space may stand within a number: such numbers are the full reader's.
      const char* next = at;
      while (next < end && *next == ' ') ++next;
      if (next < end && ((*next >= '0' && *next <= '9') || *next == '.' || *next == '\t'))
        return nullptr;
      at = next;
    }
  }
  if (at >= end || static_cast<std::size_t>(at - begin) >= longest_line) return nullptr;
  return at + 1;
}

}  // namespace

bool Interpreter::usual_state() const {
  return (motion_mode_ == 0 || motion_mode_ == 10) && feed_mode_ == FeedMode::per_minute &&
         !polar_ && !rotated_ && !scaling_ && !mirroring_ && !corner_ && moved_ && !length_doubt_ &&
         feed_scale_ == scale_ && !compensation_.on() &&
         (!compensated_ || (tool_at_ && *tool_at_ == position_)) && !reporter_.failed();
}

// Whether numbers without a point mean what is written, and nothing of it is left to say.
bool Interpreter::bare_is_plain(bool length, bool feed) const {
  if (length && (lengths_are_steps_ || !(lengths_declared_ || numbers_.first.length != 0)))
    return false;
  if (!feed) return true;
  const bool heard = feed_told_ || feeds_declared_ || (scale_ == 1 && !lengths_are_steps_);
  return heard && !feeds_are_steps_;
}

bool Interpreter::quick_line() {
  QuickLine line;
  const char* const begin = text_.data() + at_;
  const bool watch = !lengths_declared_ && (numbers_.shown.length == 0 || manner_open());
  const char* const next = read_quick(begin, text_.data() + text_.size(), watch, line);
  if (next == nullptr) return false;
  constexpr unsigned axis_words = x_word | y_word | z_word;
  const bool moves = (line.words & axis_words) != 0;
  if (line.words == 0 || (!moves && line.motion_code >= 0)) return false;
  const bool bare_length = (line.bare & axis_words) != 0, bare_feed = (line.bare & f_word) != 0;
  if ((bare_length || bare_feed) && !bare_is_plain(bare_length, bare_feed)) return false;
  if (line.padded > 0 && numbers_.shown.length == 0) return false;
  if (bare_length && !lengths_declared_ && numbers_.huge.length == 0) {
    for (unsigned k = 0; k < 3; ++k) {
      if ((line.bare >> k & 1) != 0 && beyond_use(static_cast<char>('X' + k), line.place[k]))
        return false;
    }
  }
  const int mode = line.motion_code >= 0 ? line.motion_code : motion_mode_;
  const double feed = (line.words & f_word) != 0 ? line.feed : feed_;
  if (moves && mode == 10 && !(to_mm(feed) >= crawling_feed)) return false;
  Motion m;
  if (moves) {
    const Vec3 zero = origin();
    m.end = position_ - zero;
    for (int k = 0; k < 3; ++k) {
      if ((line.words & (1u << k)) == 0) continue;
      const double v = to_mm(line.place[k]);
      m.end[k] = absolute_ ? v : m.end[k] + v;
    }
    m.end += zero;
    if (!within_reach(m.end)) return false;
  }
  // Nothing is left to doubt from here on. Messages of the program's end show its last line.
  const char* const last = next - 1 > begin && next[-2] == '\r' ? next - 2 : next - 1;
  context_.text = {begin, static_cast<std::size_t>(last - begin)};
  context_.line = line_ + 1;
  at_ += static_cast<std::size_t>(next - begin);
  ++line_;
  if (bare_length || line.padded > 0) {
    const int bare = std::popcount(line.bare & axis_words);
    count_numbers(bare, line.padded, bare, line.padded);
  }
  if ((line.words & f_word) != 0) {
    feed_ = line.feed;
    feed_given_ = true;
    feed_scale_ = scale_;
  }
  if (!moves) return true;
  decimals_ = std::max(decimals_, std::min(line.decimals, 9));
  motion_mode_ = straight_mode_ = mode;
  m.kind = mode == 0 ? PathKind::rapid : PathKind::line;
  m.start = position_;
  m.feed = mode == 0 ? 0 : to_mm(feed_);
  m.line = line_;
  m.axes_given = static_cast<std::uint8_t>(line.words & axis_words);
  position_ = m.end;
  emit(m);
  return true;
}

}  // namespace proveout::nc
