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

}  // namespace

// Notes where each line beginning with O or ':' and a number stands. Done at the first call only.
void Interpreter::find_subprograms() {
  subprograms_found_ = true;
  std::size_t at = 0;
  std::uint32_t line = 0;
  while (at < text_.size()) {
    const void* found = std::memchr(text_.data() + at, '\n', text_.size() - at);
    const std::size_t end =
        found == nullptr ? text_.size()
                         : static_cast<std::size_t>(static_cast<const char*>(found) - text_.data());
    ++line;
    std::size_t i = at;
    while (i < end && (text_[i] == ' ' || text_[i] == '\t')) ++i;
    if (i < end && (text_[i] == 'O' || text_[i] == 'o' || text_[i] == ':')) {
      long number = 0;
      std::size_t k = i + 1;
      while (k < end && text_[k] >= '0' && text_[k] <= '9' && number < 100000000)
        number = number * 10 + (text_[k++] - '0');
      if (k > i + 1) subprograms_.try_emplace(static_cast<int>(number), at, line - 1);
    }
    at = end + 1;
  }
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
  c.entry = found->second.first;
  c.entry_line = found->second.second;
  c.repeats_left = repeats - 1;
  c.chain_before = chain_;
  std::vector<std::uint32_t> chain = chains_[chain_];
  chain.push_back(line_);
  const auto known = std::find(chains_.begin(), chains_.end(), chain);
  chain_ = static_cast<std::uint32_t>(known - chains_.begin());
  if (known == chains_.end()) chains_.push_back(std::move(chain));
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
