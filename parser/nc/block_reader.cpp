#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstring>
#include <span>
#include <utility>

#include "parser/nc/block.h"
#include "parser/nc/decimal.h"
#include "parser/nc/modal_groups.h"
#include "parser/nc/suggestions.h"

namespace proveout::nc {
namespace {

constexpr double most_number = 1e9;

bool is_digit(char c) { return c >= '0' && c <= '9'; }
char upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 32) : c; }

// A plain decimal. False where it is anything but that, or where white space and more of the number
// follow: such numbers are left to the full reader.
bool plain_number(std::string_view text, std::size_t& at, double& value, bool& pointed) {
  int whole_digits = 0;
  const char* const end = text.data() + text.size();
  const char* const next = read_decimal(text.data() + at, end, value, whole_digits, pointed);
  if (next == nullptr) return false;
  const auto i = static_cast<std::size_t>(next - text.data());
  if (i < text.size() && (text[i] == ' ' || text[i] == '\t')) {
    std::size_t k = i;
    while (k < text.size() && (text[k] == ' ' || text[k] == '\t')) ++k;
    if (k < text.size() && (is_digit(text[k]) || text[k] == '.')) return false;
  }
  at = i;
  return true;
}

// As many as any line of a program has: what is asked of each setting stays linear on lines of
// millions.
std::span<const Setting> latest(const std::vector<Setting>& settings) {
  const std::span<const Setting> all(settings);
  return all.last(std::min<std::size_t>(all.size(), 64));
}

class BlockReader {
 public:
  BlockReader(const LineContext& context, const Parameters& parameters, Block& block)
      : context_(context), text_(context.text), parameters_(parameters), block_(block) {}

  bool read() {
    block_.clear();
    if (text_.size() > 256)
      note("line-too-long", 256, text_.size() - 256,
           fmt::format("this line has {} characters", text_.size()));
    at_ = context_.begin;
    skip();
    if (at_ < text_.size() && text_[at_] == '%') return percent();
    if (at_ < text_.size() && text_[at_] == '/' && !block_delete()) return false;
    bool first = true;
    while (at_ < text_.size()) {
      const bool comment_begins = text_[at_] == '(' || text_[at_] == ';';
      if (!item(first)) return false;
      if (!comment_begins) block_.words_end = static_cast<std::uint32_t>(at_);
      first = false;
      skip();
    }
    return true;
  }

 private:
  void skip() {
    while (at_ < text_.size() && (text_[at_] == ' ' || text_[at_] == '\t' || text_[at_] == '\r'))
      ++at_;
  }

  bool fail(std::string_view code, std::size_t column, std::size_t length, std::string what,
            std::string remedy = {}) {
    return context_.reporter->report(code, text_, context_.line, column, length, std::move(what),
                                     std::move(remedy));
  }
  bool note(std::string_view code, std::size_t column, std::size_t length, std::string what) {
    return fail(code, column, length, std::move(what));
  }

  bool percent() {
    block_.percent = true;
    ++at_;
    skip();
    // A program number, a name or a remark behind the % is passed over, as practice has it.
    if (at_ == text_.size() || std::strchr("(;:Oo_", text_[at_]) != nullptr || digit_at(at_))
      return true;
    return fail("percent-text", at_, text_.size() - at_,
                "what stands behind % on its line is not carried out", "give it a line of its own");
  }

  bool shop() const { return context_.profile == Profile::shop; }
  bool digit_at(std::size_t i) const { return i < text_.size() && is_digit(text_[i]); }

  // '/', in practice also '/1' to '/9' for one of nine switches.
  bool block_delete() {
    const std::size_t start = at_++;
    block_.deleted = true;
    if (shop() && digit_at(at_) && !digit_at(at_ + 1) && text_[at_] != '0') {
      note("block-delete-switch", start, 2,
           fmt::format("'/{}' is read as a block delete", text_[at_]));
      ++at_;
    } else if (shop() && at_ < text_.size() && text_[at_] == '/') {
      return two_slashes(start);
    }
    skip();
    return true;
  }

  // A remark to some controls, a block delete to others: where both mean the same it is passed
  // over.
  bool two_slashes(std::size_t start) {
    ++at_;
    const std::size_t rest = at_;
    bool words = false;
    for (std::size_t i = rest; i + 1 < text_.size(); ++i) {
      const char c = upper(text_[i]);
      words = words || (c >= 'A' && c <= 'Z' && (digit_at(i + 1) || text_[i + 1] == '#'));
      words = words || (c == '#' && digit_at(i + 1));
    }
    if (words) {
      return fail("two-slashes", start, 2,
                  "'//' begins a remark on some controls, and a block that may run on others",
                  "write a remark in brackets, or a block delete with one '/'");
    }
    note("semicolon-comment", start, text_.size() - start, "a remark behind '//'");
    at_ = text_.size();
    return true;
  }

  // '*' and a number at the line's end: a sum over the line's bytes for its way to the control.
  bool check_sum() {
    const std::size_t start = at_++;
    if (worked_out_) {  // X#1*2 may as well be a product that lacks its brackets
      return fail(
          "character-not-allowed", start, 1,
          "'*' behind a parameter or expression is a product or a sum over the line's bytes",
          "what is worked out stands in [ ], as in X[#1*2]");
    }
    while (digit_at(at_)) ++at_;
    skip();
    if (at_ == start + 1 || (at_ < text_.size() && text_[at_] != ';' && text_[at_] != '(')) {
      return fail("character-not-allowed", start, 1, "'*' begins no word");
    }
    return note("check-sum", start, at_ - start, "a sum over the line's bytes, not held to them");
  }

  // '$1': which of a control's channels what follows is for.
  bool channel(bool first) {
    const std::size_t start = at_++;
    int number = 0;
    while (digit_at(at_) && number < 1000) number = number * 10 + (text_[at_++] - '0');
    if (!first || number != 1) {
      return fail("other-dialect", start, at_ - start,
                  "'$' names a channel of the control; only $1 at a line's start is followed",
                  "post for one channel");
    }
    return note("channel", start, at_ - start, "channel 1 is the only one followed");
  }

  // ,R and ,C. What they are called elsewhere, ,A for an angle, is not followed.
  bool corner_word() {
    const std::size_t start = at_;
    std::size_t i = at_ + 1;
    while (i < text_.size() && (text_[i] == ' ' || text_[i] == '\t')) ++i;
    const char letter = i < text_.size() ? upper(text_[i]) : '\0';
    if (letter != 'R' && letter != 'C') {
      return fail(
          "character-not-allowed", start, 1,
          letter == 'A' ? "',A' is a direction, which is not followed" : "',' begins no word",
          letter == 'A' ? "post the end point" : near_character(text_, start));
    }
    if (block_.corner.size)
      return fail("word-repeated", start, 2, "two corner words stand on this line");
    at_ = i + 1;
    double value = 0;
    bool pointed = false;
    if (!read_real_value(context_, parameters_, text_, at_, value, pointed)) return false;
    if (!(std::abs(value) < most_number))
      return fail("number-huge", start, at_ - start, "this number is too large");
    block_.corner = {value, letter == 'C', static_cast<std::uint32_t>(start),
                     static_cast<std::uint32_t>(at_), pointed};
    return true;
  }

  bool item(bool first) {
    const char c = upper(text_[at_]);
    if (c == '(') return comment();
    if (shop() && c == '*') return check_sum();
    if (shop() && c == '$') return channel(first);
    if (shop() && c == ',') return corner_word();
    if (c == ';') {
      note("semicolon-comment", at_, text_.size() - at_, "a comment behind a semicolon");
      block_.comment = text_.substr(at_ + 1);
      at_ = text_.size();
      return true;
    }
    if (c == '#') return setting();
    if (c == ':' || c == 'O') return program_number(first);
    if (c >= 'A' && c <= 'Z') return word(c);
    if (c == '/' && !first) {
      return fail("character-not-allowed", at_, 1, "'/' may only begin a line",
                  "a division stands in [ ], as in X[#1/2]");
    }
    const auto u = static_cast<unsigned char>(c);
    if (!first && std::strchr("+-*/", c) != nullptr) {
      return fail("character-not-allowed", at_, 1, fmt::format("'{}' begins no word", c),
                  "what is worked out stands in [ ], as in X[#1+2]");
    }
    return fail("character-not-allowed", at_, 1,
                u >= 0x20 && u < 0x7F ? fmt::format("'{}' begins no word", c)
                                      : fmt::format("byte 0x{:02X} begins no word", u),
                near_character(text_, at_));
  }

  bool comment() {
    const std::size_t start = at_;
    std::size_t depth = 0, end = at_;
    for (; end < text_.size(); ++end) {
      if (text_[end] == '(') {
        if (++depth == 2 && !note("comment-nested", end, 1, "a '(' inside a comment")) return false;
      } else if (text_[end] == ')') {
        // The report ends a comment at the first ')'; nested brackets are closed one by one if they
        // can be.
        if (--depth == 0) break;
      }
    }
    if (end >= text_.size()) {
      const std::size_t first_close = text_.find(')', start);
      if (first_close == std::string_view::npos) {
        return fail("comment-open", start, text_.size() - start,
                    "the comment is not closed on this line", "close it with ')'");
      }
      end = first_close;
    }
    block_.comment = text_.substr(start + 1, end - start - 1);
    block_.has_comment = true;
    at_ = end + 1;
    return true;
  }

  bool setting() {
    const std::size_t start = at_++;
    double index = 0, value = 0;
    bool pointed = false;
    if (at_ < text_.size() && text_[at_] == '<') {
      return fail("setting", start, 2, "a parameter with a name",
                  "named parameters are not read: use #1 to #5399");
    }
    if (!read_real_value(context_, parameters_, text_, at_, index, pointed)) return false;
    skip();
    if (at_ >= text_.size() || text_[at_] != '=') {
      return fail("setting", start, at_ - start,
                  "a parameter at the start of a word must be set with '='");
    }
    ++at_;
    if (!(std::abs(index - std::round(index)) <= 1e-4) || index < 1 || index > Parameters::last) {
      return fail("parameter-index", start, at_ - start,
                  fmt::format("#{} is no parameter; they run from #1 to #5399", index));
    }
    Setting set{static_cast<int>(std::lround(index)), std::nullopt};
    if (!may_be_set(set.index, start)) return false;
    if (shop()) {
      if (!read_open_expression(context_, parameters_, text_, at_, set.value)) return false;
    } else {
      if (!read_real_value(context_, parameters_, text_, at_, value, pointed)) return false;
      set.value = value;
    }
    block_.settings.push_back(set);
    return true;
  }

  // What a setting changes besides the number is told of: the control's own values, and one that a
  // later setting of the line replaces.
  bool may_be_set(int index, std::size_t start) {
    for (const Setting& s : latest(block_.settings)) {
      if (s.index != index || !shop() || std::exchange(set_twice_, true)) continue;
      fail("word-idle", start, at_ - start,
           fmt::format("#{} is set twice on this line: the last of them counts", index),
           "take the other out");
    }
    if (index >= Parameters::first_of_offsets) {
      return fail(
          "control-value", start, at_ - start,
          fmt::format("setting #{} moves the zero on controls that keep offsets there, which "
                      "is not followed",
                      index),
          "post G10 L2, or give the offset in the job");
    }
    if (!shop() || index < Parameters::first_of_practice || Parameters::is_home(index)) return true;
    context_.reporter->of(std::to_string(index));
    return fail("control-value-set", start, at_ - start,
                fmt::format("#{} is the control's own on many: setting it stops, waits, or changes "
                            "tables there, and keeps a number here",
                            index),
                "use #100 to #999 for numbers; for the rest post the code that does it");
  }

  bool program_number(bool first) {
    const std::size_t start = at_++;
    skip();
    double value = 0;
    bool pointed = false;
    if (!first || at_ >= text_.size() || !plain_number(text_, at_, value, pointed) || pointed ||
        value < 0 || value > 99999999) {
      return fail(first ? "program-number" : "letter-not-allowed", start, 1,
                  "O and ':' may only begin a line, with the number of a program",
                  first ? "" : near_character(text_, start));
    }
    block_.program_number = true;
    block_.o_number = static_cast<int>(value);
    // What stands behind the number on an O line is its name: only comments mean something.
    return true;
  }

  bool word(char letter) {
    const std::size_t start = at_++;
    skip();
    double value = 0;
    bool pointed = false;
    const std::size_t number = at_;
    const bool plain = plain_number(text_, at_, value, pointed);
    if (!plain) {
      const char next = at_ < text_.size() ? upper(text_[at_]) : '\0';
      const bool begins = is_digit(next) || next == '.' || next == '-' || next == '+' ||
                          next == '[' || next == '#' || function_ahead();
      if (!begins) return number_missing(letter, start);
      if (!read_real_value(context_, parameters_, text_, at_, value, pointed)) return false;
    }
    const std::string_view written = text_.substr(start, at_ - start);
    worked_out_ = !plain && written.find_first_of("#[") != std::string_view::npos;
    if (const std::size_t next = text_.find_first_not_of(" \t", at_);
        next != std::string_view::npos && text_[next] == '=') {
      return fail("other-dialect", start, next + 1 - start,
                  fmt::format("'{}=' sets a variable of another dialect", written),
                  "post the numbers themselves; parameters are set as #1=2");
    }
    if (!(std::abs(value) < most_number)) {
      return fail("number-huge", start, at_ - start,
                  fmt::format("{}{} is too large", letter, value));
    }
    if (!plain && shop() && std::string_view("ABCFIJKQRUVWXYZ").find(letter) < 26)
      tell_of_rounding(written, start);
    if (letter == 'G') return g_code(value, start);
    if (letter == 'M') return m_code(value, start);
    if (letter == 'N') return line_number(value, pointed, start);
    if (letter == 'O' || (letter == 'E' && !shop())) {
      return fail("letter-not-allowed", start, 1,
                  fmt::format("'{}' is no word of the language", letter));
    }
    const std::uint32_t bit = 1u << (letter - 'A');
    if (block_.present & bit) {
      return fail("word-repeated", start, at_ - start,
                  fmt::format("{} stands twice on this line", letter));
    }
    block_.present |= bit;
    if (pointed) block_.pointed |= bit;
    if (pointed && plain && value != 0 && value == std::trunc(value)) block_.padded |= bit;
    block_.value[static_cast<std::size_t>(letter - 'A')] = value;
    block_.column[static_cast<std::size_t>(letter - 'A')] = static_cast<std::uint32_t>(start);
    block_.end[static_cast<std::size_t>(letter - 'A')] = static_cast<std::uint32_t>(at_);
    if (pointed && plain && std::string_view("XYIJR").find(letter) != std::string_view::npos) {
      const std::size_t point = text_.find('.', number);
      block_.decimals = std::max(block_.decimals, static_cast<int>(at_ - point) - 1);
    }
    return true;
  }

  void tell_of_rounding(std::string_view written, std::size_t start) {
    constexpr std::string_view name = "ROUND";
    const auto same = [](char a, char b) { return upper(a) == b; };
    const auto* const at =
        std::search(written.begin(), written.end(), name.begin(), name.end(), same);
    if (at == written.end()) return;
    fail("expression-dialect", start, written.size(),
         "ROUND within a word gives a whole number here; on some controls the last place they hold",
         "round in a setting, on a line of its own");
  }

  bool function_ahead() const {
    for (std::string_view f : function_names) {
      if (text_.size() - at_ <= f.size()) continue;
      std::size_t i = 0;
      while (i < f.size() && upper(text_[at_ + i]) == f[i]) ++i;
      if (i == f.size()) return true;
    }
    return false;
  }

  bool number_missing(char letter, std::size_t start) {
    std::string run;
    for (std::size_t i = start;
         i < text_.size() && std::isalpha(static_cast<unsigned char>(text_[i])); ++i) {
      run += upper(text_[i]);
    }
    const OtherDialect other = word_of_another_dialect(run, text_.substr(start));
    if (!other.what.empty()) return fail(other.code, start, run.size(), other.what, other.remedy);
    std::string behind;  // a function that stands for the number
    for (std::size_t i = at_;
         i < text_.size() && std::isalpha(static_cast<unsigned char>(text_[i])); ++i) {
      behind += upper(text_[i]);
    }
    std::string meant = run.size() > 1 ? nearest_function(run) : std::string();
    if (meant.empty() && behind.size() > 1) meant = nearest_function(behind);
    std::string remedy;
    if (stands_for_no_number(run) || stands_for_no_number(behind)) {
      remedy = no_number_remedy;
    } else if (!meant.empty()) {
      remedy = fmt::format("perhaps {} was meant", meant);
    } else if (behind.size() == 1 && digit_at(at_ + 1) && behind != "O") {
      remedy = variable_remedy;
    } else if (start + 1 < text_.size()) {
      remedy = near_character(text_, start + 1);
    }
    return fail("number-missing", start, 1, fmt::format("{} has no number", letter),
                std::move(remedy));
  }

  bool line_number(double value, bool pointed, std::size_t start) {
    const bool again = std::exchange(numbered_, true);
    const bool ok = !again && !pointed && value >= 0 && value == std::floor(value) &&
                    at_ - start <= 6 && block_.present == 0 && block_.g_count == 0 &&
                    block_.m_count == 0;
    return ok || note("line-number", start, at_ - start,
                      again ? "a second line number, which no GOTO finds" : "an odd line number");
  }

  bool g_code(double value, std::size_t start) {
    const double tenths = value * 10;
    const double whole = std::round(tenths);
    if (std::abs(tenths - whole) > 1e-3 || whole < 0 || whole > 9999) {
      return fail("g-code-unknown", start, at_ - start, fmt::format("there is no G{}", value));
    }
    if (block_.g_count == static_cast<int>(block_.g.size())) {
      return fail("too-many-codes", start, at_ - start, "too many G codes on one line");
    }
    block_.g[static_cast<std::size_t>(block_.g_count++)] = {static_cast<std::int16_t>(whole),
                                                            static_cast<std::uint16_t>(start)};
    return true;
  }

  bool m_code(double value, std::size_t start) {
    const double whole = std::round(value);
    if (std::abs(value - whole) > 1e-4 || whole < 0 || whole > 3000) {
      return fail("m-code-unknown", start, at_ - start, fmt::format("there is no M{}", value));
    }
    if (block_.m_count == static_cast<int>(block_.m.size())) {
      return fail("too-many-codes", start, at_ - start, "too many M codes on one line");
    }
    block_.m[static_cast<std::size_t>(block_.m_count++)] = {static_cast<std::int16_t>(whole * 10),
                                                            static_cast<std::uint16_t>(start)};
    return true;
  }

  const LineContext& context_;
  std::string_view text_;
  const Parameters& parameters_;
  Block& block_;
  std::size_t at_ = 0;
  bool numbered_ = false;    // an N stood on the line
  bool set_twice_ = false;   // one parameter was, and it was told
  bool worked_out_ = false;  // the last word's number was a parameter or an expression
};

}  // namespace

Parameters::Locals Parameters::take_locals() {
  Locals locals;
  if (values_.empty()) return locals;
  for (std::size_t i = 0; i < locals.size(); ++i) std::swap(locals[i], values_[i + 1]);
  return locals;
}

void Parameters::restore_locals(const Locals& locals) {
  if (values_.empty()) values_.resize(5400);
  std::copy(locals.begin(), locals.end(), values_.begin() + 1);
  use_.as_given = ~std::uint64_t{0};
}

void Block::clear() {
  present = pointed = padded = used = words_end = 0;
  decimals = 0;
  corner = {};
  corner_used = false;
  g_count = m_count = 0;
  if (!settings.empty()) settings.clear();
  comment = {};
  has_comment = deleted = percent = program_number = false;
}

bool read_block(const LineContext& context, const Parameters& parameters, Block& block) {
  return BlockReader(context, parameters, block).read();
}

}  // namespace proveout::nc
