// M98, M99 and O-numbered subprograms of the same file, as ISO programs use them (common practice).
#include <fmt/format.h>

#include <algorithm>
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
    while (i < text_.size() && text_[i] != '\n' && text_[i] != '\r') ++i;
    at = text_.substr(i, 2) == "\r\n" ? i + 2 : i + 1;
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

// Subprograms stand behind the main program's end, so that only what comes before the first O
// number there is told of: it may have been meant to run.
void Interpreter::tell_of_text_behind() {
  std::uint32_t line = line_;
  for (std::size_t at = behind_; at < text_.size();) {
    const std::size_t end = std::min(text_.find_first_of("\r\n", at), text_.size());
    std::string_view text = text_.substr(at, end - at);
    ++line;
    at = text_.substr(end, 2) == "\r\n" ? end + 2 : end + 1;
    const std::size_t first = text.find_first_not_of(" \t%\x1A\f");
    if (first == std::string_view::npos || text[first] == '(' || text[first] == ';') continue;
    if (ends_or_numbers(text.substr(first))) continue;
    if (text[first] == 'O' || text[first] == 'o' || text[first] == ':') return;
    reporter_.report("text-behind-end", text, line, first, text.size() - first,
                     "blocks stand behind the program's end: they are not read",
                     "take them out, or take out the end above them");
    return;
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

bool Interpreter::call(const Block& block) {
  if (m_call_ == 99) {
    bool ended = false;
    go_back(ended);
    if (ended) {
      fail("subprogram-return", m_column_, 3, "M99 in the main program: taken as its end");
      event(EventKind::program_end);
      ended_ = true;
    }
    return true;
  }
  if (strict()) return fail("m-code-unknown", m_column_, 3, "there is no M98 in the report");
  if (!block.has('P')) return fail("subprogram-missing", m_column_, 3, "M98 without P");
  int number = 0, repeats = 1;
  if (!whole(block, 'P', 0, 99999999, number)) return false;
  if (block.has('L') && !whole(block, 'L', 1, 9999, repeats)) return false;
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
  if (calls_.size() >= most_depth) {
    return fail_at(block, 'P', "subprogram-depth",
                   fmt::format("subprograms call each other more than {} deep", most_depth));
  }
  if (++calls_made_ > most_calls) {
    ended_ = true;
    return fail_at(block, 'P', "subprogram-count",
                   fmt::format("more than {} subprogram calls", most_calls));
  }
  Call c;
  c.back_to = at_;
  c.back_line = line_;
  c.text = context_.text;
  c.entry = found->second.first;
  c.entry_line = found->second.second;
  c.repeats = repeats;
  c.repeats_left = repeats - 1;
  c.chain_before = chain_;
  std::vector<std::uint32_t> chain = chains_[chain_];
  chain.push_back(line_);
  const auto [known, is_new] =
      chain_numbers_.try_emplace(chain, static_cast<std::uint32_t>(chains_.size()));
  chain_ = known->second;
  if (is_new) chains_.push_back(std::move(chain));
  calls_.push_back(c);
  at_ = c.entry;
  line_ = c.entry_line;
  return true;
}

// M99: again, or back to behind the call. ended: there was no call.
bool Interpreter::go_back(bool& ended) {
  ended = calls_.empty();
  if (ended) return true;
  Call& c = calls_.back();
  if (c.repeats_left > 0) {
    if (++calls_made_ > most_calls) {
      ended_ = true;
      return fail("subprogram-count", m_column_, 3,
                  fmt::format("more than {} subprogram calls", most_calls));
    }
    --c.repeats_left;
    at_ = c.entry;
    line_ = c.entry_line;
    return true;
  }
  at_ = c.back_to;
  line_ = c.back_line;
  chain_ = c.chain_before;
  calls_.pop_back();
  return true;
}

}  // namespace proveout::nc
