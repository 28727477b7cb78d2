// Jumps and loops: IF [..] GOTO n, IF [..] THEN .., GOTO n, WHILE [..] DO m .. END m. Common
// practice, no source. Lines that run again are counted, so that no loop is followed without end.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <tuple>
#include <utility>

#include "parser/nc/interpreter.h"

namespace proveout::nc {
namespace {

enum class Flow : std::uint8_t { none, if_, goto_, while_, do_, end };

struct FlowStart {
  Flow flow = Flow::none;
  bool deleted = false;    // the line begins with a block delete
  std::size_t word = 0;    // where the flow word stands
  std::size_t behind = 0;  // and what follows it
};

char upper(char c) { return static_cast<char>(std::toupper(static_cast<unsigned char>(c))); }

std::size_t skip(std::string_view text, std::size_t at) {
  while (at < text.size() && (text[at] == ' ' || text[at] == '\t' || text[at] == '\r')) ++at;
  return at;
}

bool digit(std::string_view text, std::size_t at) {
  return at < text.size() && text[at] >= '0' && text[at] <= '9';
}

// Whether the word stands there, and no letter behind it.
bool stands(std::string_view text, std::size_t at, std::string_view word) {
  if (text.size() < at + word.size()) return false;
  for (std::size_t i = 0; i < word.size(); ++i) {
    if (upper(text[at + i]) != word[i]) return false;
  }
  const std::size_t behind = at + word.size();
  return behind == text.size() || std::isalpha(static_cast<unsigned char>(text[behind])) == 0;
}

// Behind a block delete and a block's number, the word of flow the line has, if any.
FlowStart flow_at(std::string_view text, std::size_t at) {
  FlowStart found;
  at = skip(text, at);
  if (at < text.size() && text[at] == '/') {
    found.deleted = true;
    at = skip(text, at + 1);
  }
  if (at < text.size() && upper(text[at]) == 'N' && digit(text, skip(text, at + 1))) {
    at = skip(text, at + 1);
    while (digit(text, at)) ++at;
    at = skip(text, at);
  }
  constexpr std::pair<std::string_view, Flow> words[] = {{"IF", Flow::if_},
                                                         {"GOTO", Flow::goto_},
                                                         {"WHILE", Flow::while_},
                                                         {"DO", Flow::do_},
                                                         {"END", Flow::end}};
  for (const auto& [word, flow] : words) {
    if (!stands(text, at, word)) continue;
    found.flow = flow;
    found.word = at;
    found.behind = at + word.size();
    break;
  }
  return found;
}

// A whole number there, -1: none. Moves at behind it.
int number_at(std::string_view text, std::size_t& at) {
  at = skip(text, at);
  if (!digit(text, at)) return -1;
  long value = 0;
  while (digit(text, at) && value < 100000000) value = value * 10 + (text[at++] - '0');
  return digit(text, at) ? -1 : static_cast<int>(value);
}

// Nothing but a remark from there on.
bool nothing_left(std::string_view text, std::size_t at) {
  at = skip(text, at);
  return at == text.size() || text[at] == '(' || text[at] == ';';
}

}  // namespace

bool Interpreter::flow_line() {
  const FlowStart start = flow_at(context_.text, 0);
  if (start.flow == Flow::none) return false;
  seen_text_ = seen_words_ = true;
  if (start.deleted && options_.block_delete) return true;
  // Behind an error what is compared means nothing: the lines are read once, as they stand.
  if (reporter_.failed()) return true;
  switch (start.flow) {
    case Flow::if_:
      return if_line(start.behind);
    case Flow::goto_:
      jump_to(start.behind);
      break;
    case Flow::while_:
    case Flow::do_:
      while_line(start.flow == Flow::while_ ? start.behind : start.word,
                 start.flow == Flow::while_);
      break;
    default:
      end_line(start.behind);
      break;
  }
  if (reporter_.failed()) doubt_ = Doubt::everything;
  return true;
}

// [..] of IF and WHILE. False: an error, reported.
bool Interpreter::condition(std::size_t& at, bool& held) {
  at = skip(context_.text, at);
  if (at >= context_.text.size() || context_.text[at] != '[') {
    return fail("flow", std::min(at, context_.text.size()), 1, "a condition stands in [ ]",
                "write IF [#1 GT 2] GOTO 10");
  }
  double value = 0;
  bool pointed = false;
  if (!read_real_value(context_, parameters_, context_.text, at, value, pointed)) return false;
  held = value != 0;
  return true;
}

// True: the line is done with. False: what stands behind THEN is to be carried out.
bool Interpreter::if_line(std::size_t at) {
  bool held = false;
  const auto give_up = [&] {
    doubt_ = Doubt::everything;
    return true;
  };
  if (!condition(at, held)) return give_up();
  at = skip(context_.text, at);
  if (stands(context_.text, at, "GOTO")) {
    if (held && !jump_to(at + 4)) return give_up();
    return true;
  }
  if (!stands(context_.text, at, "THEN")) {
    fail("flow", std::min(at, context_.text.size()), 1, "IF [..] without GOTO or THEN",
         "write IF [#1 GT 2] GOTO 10, or IF [#1 GT 2] THEN #3=4");
    return give_up();
  }
  if (!held) return true;
  context_.begin = at + 4;
  const FlowStart inner = flow_at(context_.text, context_.begin);
  if (inner.flow == Flow::none) return false;
  if (inner.flow != Flow::goto_) {
    fail("flow", inner.word, 2, "only GOTO, settings and words are followed behind THEN");
    return give_up();
  }
  if (!jump_to(inner.behind)) return give_up();
  return true;
}

bool Interpreter::jump_to(std::size_t at) {
  const std::size_t column = std::min(skip(context_.text, at), context_.text.size());
  double value = 0;
  bool pointed = false;
  std::size_t behind = column;
  if (!read_real_value(context_, parameters_, context_.text, behind, value, pointed)) return false;
  if (!(value >= 1 && value <= 99999999) || std::abs(value - std::round(value)) > 1e-4)
    return fail("flow", column, 1, fmt::format("GOTO {:g}: no block can have this number", value));
  if (!nothing_left(context_.text, behind))
    return fail("flow", behind, context_.text.size() - behind, "words behind GOTO on its line");
  const Label* const to = label(static_cast<int>(std::lround(value)), begin_, column);
  if (to == nullptr) return false;
  if (to->at <= begin_) jumped_ = true;
  const std::size_t keep = calls_.empty() ? 0 : calls_.back().loops_before;
  while (loops_.size() > keep && !(to->at > loops_.back().at && to->at < loops_.back().end_at))
    loops_.pop_back();
  at_ = to->at;
  line_ = to->line;
  return true;
}

// The block N of the program or subprogram that the byte at `inside` lies in; nullptr, with an
// error, where there is none or more than one.
const Interpreter::Label* Interpreter::label(int number, std::size_t inside, std::size_t column) {
  if (!labels_found_) find_labels();
  const auto behind = [](std::size_t at, const Label& l) { return at < l.at; };
  const auto here = std::upper_bound(labels_.begin(), labels_.end(), inside, behind);
  auto first = here, last = here;
  while (first != labels_.begin() && !std::prev(first)->program) --first;
  while (last != labels_.end() && !last->program) ++last;
  const Label* found = nullptr;
  for (auto l = first; l != last; ++l) {
    if (l->number != number) continue;
    if (found != nullptr) {
      fail("flow", column, 1,
           fmt::format("N{} stands on lines {} and {}: which is meant is not known", number,
                       found->line + 1, l->line + 1),
           "number the blocks once each");
      return nullptr;
    }
    found = &*l;
  }
  if (found == nullptr)
    fail("flow", column, 1, fmt::format("there is no block N{} in this program", number));
  return found;
}

void Interpreter::find_labels() {
  labels_found_ = true;
  std::uint32_t line = 0;
  for (std::size_t at = 0; at < text_.size(); ++line) {
    const std::size_t end = std::min(text_.find_first_of("\r\n", at), text_.size());
    const std::string_view text = text_.substr(at, end - at);
    std::size_t i = skip(text, 0);
    if (i < text.size() && text[i] == '/') i = skip(text, i + 1);
    if (i < text.size()) {
      const char letter = upper(text[i]);
      const bool program = letter == 'O' || letter == ':';
      std::size_t digits = i + 1;
      if (program || letter == 'N') {
        const int number = number_at(text, digits);
        if (number >= 0) labels_.push_back({program ? -1 : number, program, at, line});
      }
    }
    at = text_.substr(end, 2) == "\r\n" ? end + 2 : end + 1;
  }
}

// word: where WHILE's condition begins; or, without one, where DO stands.
void Interpreter::while_line(std::size_t at, bool has_condition) {
  bool held = true;
  if (has_condition && !condition(at, held)) return;
  at = skip(context_.text, at);
  const std::size_t column = std::min(at, context_.text.size());
  if (!stands(context_.text, at, "DO")) {
    fail("flow", column, 1, "WHILE [..] without DO", "write WHILE [#1 LT 5] DO1");
    return;
  }
  at += 2;
  Loop loop;
  loop.number = number_at(context_.text, at);
  if (loop.number < 0 || !nothing_left(context_.text, at)) {
    fail("flow", column, 2, "DO without its number, or with words behind it");
    return;
  }
  loop.at = begin_;
  loop.line = line_ - 1;
  const std::size_t keep = calls_.empty() ? 0 : calls_.back().loops_before;
  const bool again = loops_.size() > keep && loops_.back().at == begin_;
  if (again) loops_.pop_back();
  for (std::size_t k = keep; k < loops_.size(); ++k) {
    if (loops_[k].number != loop.number) continue;
    fail("flow", column, 2, fmt::format("DO{} within DO{}", loop.number, loop.number),
         "give each loop in a loop a number of its own");
    return;
  }
  if (!loop_end(loop, column)) return;
  if (held) {
    loops_.push_back(loop);
    return;
  }
  at_ = loop.end_at;
  line_ = loop.end_line;
}

bool Interpreter::loop_end(Loop& loop, std::size_t column) {
  const auto known = loop_ends_.find(loop.at);
  if (known != loop_ends_.end()) {
    std::tie(loop.end_at, loop.end_line) = known->second;
    return true;
  }
  std::uint32_t line = line_;
  for (std::size_t at = at_; at < text_.size(); ++line) {
    const std::size_t end = std::min(text_.find_first_of("\r\n", at), text_.size());
    const std::string_view text = text_.substr(at, end - at);
    at = text_.substr(end, 2) == "\r\n" ? end + 2 : end + 1;
    const std::size_t first = skip(text, 0);
    if (first < text.size() && (upper(text[first]) == 'O' || text[first] == ':') &&
        digit(text, skip(text, first + 1)))
      break;
    const FlowStart start = flow_at(text, 0);
    std::size_t behind = start.behind;
    if (start.flow != Flow::end || number_at(text, behind) != loop.number) continue;
    loop.end_at = std::min(at, text_.size());
    loop.end_line = line + 1;
    loop_ends_[loop.at] = {loop.end_at, loop.end_line};
    return true;
  }
  return fail("flow", column, 2, fmt::format("DO{} without its END{}", loop.number, loop.number));
}

void Interpreter::end_line(std::size_t at) {
  const std::size_t column = std::min(at, context_.text.size());
  const int number = number_at(context_.text, at);
  const std::size_t keep = calls_.empty() ? 0 : calls_.back().loops_before;
  if (number < 0 || !nothing_left(context_.text, at)) {
    fail("flow", column, 1, "END without its number, or with words behind it");
    return;
  }
  if (loops_.size() <= keep || loops_.back().number != number) {
    fail("flow", column, 1, fmt::format("END{} without a DO{} in progress", number, number),
         "loops end in the order they began, and are not jumped into");
    return;
  }
  jumped_ = true;
  at_ = loops_.back().at;
  line_ = loops_.back().line;
}

}  // namespace proveout::nc
