// M98, M99 and O-numbered subprograms of the same file, as ISO programs use them (common practice).
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstring>

#include "parser/nc/interpreter.h"

namespace proveout::nc {
namespace {

constexpr std::size_t most_depth = 16;
constexpr std::uint64_t most_calls = 100000;

// A block that does nothing behind the end: a number alone, or another end.
bool ends_or_numbers(std::string_view text) {
  while (!text.empty() && std::strchr(" \t\r", text.back()) != nullptr) text.remove_suffix(1);
  if (text.starts_with('/')) text.remove_prefix(1);
  if (!text.empty() && std::strchr("Nn", text.front()) != nullptr) {
    text.remove_prefix(1);
    text.remove_prefix(std::min(text.find_first_not_of("0123456789 "), text.size()));
  }
  constexpr std::string_view ends[] = {"", "M2", "M02", "M30", "M99", "m2", "m02", "m30", "m99"};
  return std::find(std::begin(ends), std::end(ends), text) != std::end(ends);
}

// The line that begins at `at`, without its end; moves `at` to the next.
std::string_view take_line(std::string_view all, std::size_t& at) {
  const std::size_t end = std::min(all.find_first_of("\r\n", at), all.size());
  const std::string_view line = all.substr(at, end - at);
  at = all.substr(end, 2) == "\r\n" ? end + 2 : end + 1;
  return line;
}

// Whether the line has M and this number, outside of comments.
bool has_m(std::string_view line, int number) {
  int depth = 0;
  for (std::size_t i = 0; i < line.size() && line[i] != ';'; ++i) {
    if (line[i] == '(') ++depth;
    if (line[i] == ')' && depth > 0) --depth;
    if (depth > 0 || (line[i] != 'M' && line[i] != 'm')) continue;
    const std::size_t first = std::min(line.find_first_not_of(" \t", i + 1), line.size());
    int value = -1;
    std::from_chars(line.data() + first, line.data() + line.size(), value);
    if (value == number) return true;
  }
  return false;
}

bool begins_numbered(std::string_view line) {
  const std::size_t first = line.find_first_not_of(" \t");
  return first != std::string_view::npos && std::strchr("Oo:", line[first]) != nullptr;
}

// Begins with a block delete: a subprogram may end the program there on the switch's word.
bool deletable(std::string_view line) {
  const std::size_t first = line.find_first_not_of(" \t");
  return first != std::string_view::npos && line[first] == '/';
}

}  // namespace

// Notes where each line beginning with O or ':' and a number stands. Done at the first call only.
void Interpreter::find_subprograms() {
  subprograms_found_ = true;
  std::uint32_t line = 0;  // how many lines end before this one
  for (std::size_t at = 0; at < text_.size(); ++line) {
    std::size_t i = at;
    while (i < text_.size() && (text_[i] == ' ' || text_[i] == '\t')) ++i;
    if (i < text_.size() && (text_[i] == 'O' || text_[i] == 'o' || text_[i] == ':')) {
      long number = 0;
      std::size_t k = i + 1;
      while (k < text_.size() && text_[k] >= '0' && text_[k] <= '9' && number < 100000000)
        number = number * 10 + (text_[k++] - '0');
      if (k > i + 1 && !subprograms_.try_emplace(static_cast<int>(number), at, line).second)
        tell_of_second(static_cast<int>(number), at, line);
    }
    take_line(text_, at);
  }
}

// at: where the second line with this number begins; before: how many lines end above it.
void Interpreter::tell_of_second(int number, std::size_t at, std::uint32_t before) {
  const std::size_t end = std::min(text_.find_first_of("\r\n", at), text_.size());
  reporter_.report("subprogram-twice", text_.substr(at, end - at), before + 1, 0, end - at,
                   fmt::format("O{} stands in this file again; a call runs the first, on line {}",
                               number, subprograms_.at(number).second + 1),
                   "take one out, or give it a number of its own");
}

// Subprograms stand behind the main program's end, so that what comes before the first O number
// there is told of: it may have been meant to run.
void Interpreter::tell_of_text_behind() {
  std::uint32_t line = line_;
  for (std::size_t at = behind_; at < text_.size();) {
    const std::size_t begin = at;
    const std::string_view text = take_line(text_, at);
    if (begins_numbered(text)) return tell_of_programs_behind(begin, line);
    ++line;
    // What M97 and M98 Q have called there was read.
    const auto next = called_.upper_bound(begin);
    if (next != called_.begin() && begin < std::prev(next)->second) continue;
    const std::size_t first = text.find_first_not_of(" \t%\x1A\f");
    if (first == std::string_view::npos || text[first] == '(' || text[first] == ';') continue;
    if (ends_or_numbers(text.substr(first))) continue;
    reporter_.report("text-behind-end", text, line, first, text.size() - first,
                     "blocks stand behind the program's end: they are not read",
                     "take them out, or take out the end above them");
    return;
  }
}

// From the first O number behind the end on, with so many lines above it. What stands behind an O
// number and ends as programs do, not with M99, is no subprogram: a file of two programs.
void Interpreter::tell_of_programs_behind(std::size_t at, std::uint32_t lines_above) {
  std::string_view head;  // the line with the O number; empty: behind an M99
  std::uint32_t head_line = 0;
  for (std::uint32_t line = lines_above + 1; at < text_.size(); ++line) {
    const std::string_view text = take_line(text_, at);
    if (begins_numbered(text)) {
      head = text;
      head_line = line;
    }
    if (head.empty() || deletable(text)) continue;
    if (has_m(text, 99)) {
      head = {};
    } else if (has_m(text, 2) || has_m(text, 30)) {
      reporter_.report("text-behind-end", head, head_line, 0, head.size(),
                       "another program stands behind the end of the first: it is not read",
                       "give each program a file, and each its setup in the job");
      return;
    }
  }
}

bool Interpreter::count_repeated(std::uint64_t n) {
  repeated_ += n;
  if (repeated_ <= options_.most_repeated) return true;
  // Long programs repeat more: for each of its lines thirty, as a hole of ten pecks takes, so that
  // what is spelled out passes.
  if (spelled_out_ == 0) {
    const auto lines = std::max(std::count(text_.begin(), text_.end(), '\n'),
                                std::count(text_.begin(), text_.end(), '\r'));
    spelled_out_ = 30 * static_cast<std::uint64_t>(lines) + text_.size() / bytes_a_line + 1;
  }
  if (repeated_ <= options_.most_repeated + spelled_out_) return true;
  if (!ended_) tell_of_repeats();
  ended_ = true;
  return false;
}

bool Interpreter::count_cycle_moves(std::uint64_t n) {
  cycle_moves_ += n;
  return count_repeated(n);
}

// At the call in progress that repeats most, the outer one of equals; at a cycle that repeats more.
void Interpreter::tell_of_repeats() {
  const std::string what = fmt::format("repeats make more than {} lines and moves of this program",
                                       options_.most_repeated + spelled_out_);
  const char* remedy =
      "check L and Q of cycles, and the repeats of M98; or post the moves themselves";
  const auto fewer = [](const Call& one, const Call& other) { return one.repeats < other.repeats; };
  const auto call = std::max_element(calls_.begin(), calls_.end(), fewer);
  if (call == calls_.end() || cycle_moves_ > static_cast<std::uint64_t>(call->repeats)) {
    fail("too-many-repeats", 0, context_.text.size(), what, remedy);
    return;
  }
  reporter_.report("too-many-repeats", call->text, call->back_line, 0, call->text.size(), what,
                   remedy);
}

// M97 P and M98 Q: lines of this program as a subprogram; M98 P: another O number, from its block Q
// on where there is a Q; M99.
bool Interpreter::call(const Block& block) {
  if (m_call_ == 99) return come_back(block);
  if (strict())
    return fail("m-code-unknown", m_column_, 3,
                fmt::format("there is no M{} in the report", m_call_));
  int number = 0, repeats = 1, from = 0;
  block.take_all("PL");
  if (block.has('L') && !whole(block, 'L', 1, 9999, repeats)) return false;
  const bool inside = m_call_ == 97 || (block.has('Q') && !block.has('P'));
  if (!block.has('P') && !inside)
    return fail("subprogram-missing", m_column_, 3, fmt::format("M{} without P", m_call_));
  if (inside && m_call_ == 97 && !block.has('P'))
    return fail("subprogram-missing", m_column_, 3, "M97 without P");
  if (block.has('P') && !whole(block, 'P', 0, 99999999, number)) return false;
  if (m_call_ == 98 && block.take('Q') && !whole(block, 'Q', 1, 99999999, from)) return false;
  if (inside) {
    const Label* const at = label(m_call_ == 97 ? number : from, begin_, m_column_);
    return at != nullptr && enter(block, at->at, at->line, repeats, nullptr);
  }
  if (!subprograms_found_) find_subprograms();
  auto found = subprograms_.find(number);
  if (found == subprograms_.end() && number > 9999 && !block.has('L')) {
    // P may hold the repeats before the last four digits.
    repeats = number / 10000;
    found = subprograms_.find(number % 10000);
  }
  if (found == subprograms_.end()) {
    return fail_at(block, 'P', "subprogram-missing",
                   fmt::format("there is no subprogram O{} in this file", number),
                   "post it into the same file");
  }
  if (from > 0) {
    const Label* const at = label(from, found->second.first, m_column_);
    return at != nullptr && enter(block, at->at, at->line, repeats, nullptr);
  }
  return enter(block, found->second.first, found->second.second, repeats, nullptr);
}

namespace {

// Which local parameter an argument's letter sets: 0 for those that are no arguments (common
// practice, no source).
int local_of(char letter) {
  constexpr std::string_view letters = "ABCIJKDEFGHLMNOPQRSTUVWXYZ";
  constexpr int numbers[] = {1, 2, 3, 4,  5,  6,  7,  8,  9,  0,  11, 0,  13,
                             0, 0, 0, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26};
  const std::size_t at = letters.find(letter);
  return at == std::string_view::npos ? 0 : numbers[at];
}

}  // namespace

// G65 P L: the subprogram with local parameters of its own, set by the line's other words.
bool Interpreter::macro_call(const Block& block) {
  const std::size_t column = g_column_[static_cast<std::size_t>(Group::once)];
  if (strict()) return fail("g-code-unknown", column, 3, "the report has no G65");
  if (block.g_count > 1 || block.m_count > 0) {
    return fail("macro-call", column, 3, "other codes stand on the line of a macro call",
                "give them lines of their own");
  }
  int number = 0, repeats = 1;
  if (!block.take('P')) return fail("macro-call", column, 3, "G65 without P");
  if (!whole(block, 'P', 0, 99999999, number)) return false;
  if (block.take('L') && !whole(block, 'L', 1, 9999, repeats)) return false;
  if (!subprograms_found_) find_subprograms();
  const auto found = subprograms_.find(number);
  if (found == subprograms_.end()) {
    return fail_at(block, 'P', "subprogram-missing",
                   fmt::format("there is no macro O{} in this file", number),
                   "post it into the same file, or post its moves");
  }
  Parameters::Locals arguments;
  for (char letter = 'A'; letter <= 'Z'; ++letter) {
    const int local = local_of(letter);
    if (local == 0 || !block.take(letter)) continue;
    arguments[static_cast<std::size_t>(local) - 1] = block[letter];
  }
  return enter(block, found->second.first, found->second.second, repeats, &arguments);
}

bool Interpreter::enter(const Block& block, std::size_t entry, std::uint32_t entry_line,
                        int repeats, const Parameters::Locals* arguments) {
  const std::size_t column = m_call_ >= 0 ? m_column_ : block.g[0].column;
  if (calls_.size() >= most_depth) {
    ended_ = ended_ || reporter_.failed();
    return fail("subprogram-depth", column, 3,
                fmt::format("subprograms call each other more than {} deep", most_depth));
  }
  if (++calls_made_ > most_calls) {
    ended_ = true;
    return fail("subprogram-count", column, 3,
                fmt::format("more than {} subprogram calls", most_calls));
  }
  Call c;
  c.back_to = at_;
  c.back_line = line_;
  c.text = context_.text;
  c.entry = entry;
  c.entry_line = entry_line;
  c.repeats = repeats;
  c.repeats_left = repeats - 1;
  c.chain_before = chain_;
  c.loops_before = loops_.size();
  if (arguments != nullptr) {
    c.macro = true;
    c.arguments = *arguments;
    for (char letter = 'A'; letter <= 'Z'; ++letter) {
      if (local_of(letter) != 0 && block.has(letter))
        c.given.emplace_back(letter, block.column[static_cast<std::size_t>(letter - 'A')]);
    }
    c.locals_before = parameters_.take_locals();
    parameters_.restore_locals(c.arguments);
    c.use_before = parameters_.swap_use({});
    context_.in_macro = true;
  }
  std::vector<std::uint32_t> chain = chains_[chain_];
  chain.push_back(line_);
  const auto [known, is_new] =
      chain_numbers_.try_emplace(chain, static_cast<std::uint32_t>(chains_.size()));
  chain_ = known->second;
  if (is_new) chains_.push_back(std::move(chain));
  calls_.push_back(std::move(c));
  at_ = entry;
  line_ = entry_line;
  return true;
}

// Arguments of a macro call that the macro has not read, at the call.
void Interpreter::tell_of_unread(const Call& call, std::uint64_t read) {
  if (reporter_.failed()) return;
  for (const auto& [letter, column] : call.given) {
    const int local = local_of(letter);
    if ((read >> local & 1) != 0) continue;
    reporter_.of(fmt::format("G65 {} {}", letter, call.back_line));
    reporter_.report(
        "word-unused", call.text, call.back_line, column, 1,
        fmt::format("the macro does not read {}, its #{}, in this call", letter, local),
        "take it out, or see whether another letter was meant");
  }
}

// M99, and M99 P: on at block P of the caller, or of the main program.
bool Interpreter::come_back(const Block& block) {
  const bool jumps = !strict() && block.take('P');
  int number = 0;
  if (jumps && !whole(block, 'P', 1, 99999999, number)) return false;
  if (jumps && !calls_.empty() && calls_.back().repeats_left > 0) {
    return fail("flow", m_column_, 3, "M99 P in a subprogram that is to run again",
                "post the repeats themselves");
  }
  bool ended = false;
  if (!jumps || !calls_.empty()) go_back(ended);
  if (jumps) {
    const Label* const to = label(number,
                                  calls_.empty() && ended ? 0
                                  : at_ > 0               ? at_ - 1
                                                          : 0,
                                  m_column_);
    if (to == nullptr) return false;
    jumped_ = jumped_ || to->at <= begin_;
    at_ = to->at;
    line_ = to->line;
    return true;
  }
  if (ended) {
    fail("subprogram-return", m_column_, 3, "M99 in the main program: taken as its end");
    event(EventKind::program_end);
    ended_ = true;
  }
  return true;
}

// M99: again, or back to behind the call. ended: there was no call.
bool Interpreter::go_back(bool& ended) {
  ended = calls_.empty();
  if (ended) return true;
  Call& c = calls_.back();
  loops_.resize(std::min(loops_.size(), c.loops_before));
  if (c.repeats_left > 0) {
    if (++calls_made_ > most_calls) {
      ended_ = true;
      return fail("subprogram-count", m_column_, 3,
                  fmt::format("more than {} subprogram calls", most_calls));
    }
    --c.repeats_left;
    if (c.macro) parameters_.restore_locals(c.arguments);
    at_ = c.entry;
    line_ = c.entry_line;
    return true;
  }
  std::size_t& called_to = called_[c.entry];
  called_to = std::max(called_to, at_);
  at_ = c.back_to;
  line_ = c.back_line;
  chain_ = c.chain_before;
  if (c.macro) {
    parameters_.restore_locals(c.locals_before);
    tell_of_unread(c, parameters_.swap_use(c.use_before).read);
  }
  calls_.pop_back();
  context_.in_macro =
      std::any_of(calls_.begin(), calls_.end(), [](const Call& each) { return each.macro; });
  return true;
}

}  // namespace proveout::nc
