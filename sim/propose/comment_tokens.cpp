#include "sim/propose/comment_tokens.h"

#include <array>
#include <cctype>
#include <charconv>

namespace proveout::propose {
namespace {

bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; }
bool is_digit(char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; }

class Tokenizer {
 public:
  explicit Tokenizer(std::string_view text) : text_(text) {}

  std::vector<Token> all() {
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (is_digit(c) || (c == '.' && digit(at_ + 1))) {
        number();
      } else if (is_letter(c)) {
        word();
      } else if (diameter_sign()) {
        add_word("D");
      } else if (c == '*' && follows_number()) {
        add_word("X");
        ++at_;
      } else {
        ++at_;
      }
    }
    return out_;
  }

 private:
  void add_word(std::string_view word) {
    Token t;
    t.word = std::string(word);
    out_.push_back(std::move(t));
  }
  bool digit(std::size_t at) const { return at < text_.size() && is_digit(text_[at]); }
  bool follows_number() const { return !out_.empty() && out_.back().number; }

  bool diameter_sign() {
    for (const std::string_view sign : {"\xC3\x98", "\xC3\xB8", "\xE2\x8C\x80"}) {
      if (!text_.substr(at_).starts_with(sign)) continue;
      at_ += sign.size();
      return true;
    }
    return false;
  }

  void word() {
    const std::size_t from = at_;
    while (at_ < text_.size() && is_letter(text_[at_])) ++at_;
    add_word(text_.substr(from, at_ - from));
  }

  double whole_or_decimal() {
    const std::size_t from = at_;
    while (at_ < text_.size() && (is_digit(text_[at_]) || text_[at_] == '.')) ++at_;
    double value = 0;
    std::string digits(text_.substr(from, at_ - from));
    if (digits.front() == '.') digits.insert(0, "0");
    std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return value;
  }

  void number() {
    Token t;
    t.number = true;
    t.taken = negative();  // a depth, no size
    t.word = before();
    const std::size_t from = at_;
    t.value = whole_or_decimal();
    t.point = text_.substr(from, at_ - from).find('.') != std::string_view::npos;
    if (at_ < text_.size() && text_[at_] == ',' && digit(at_ + 1) && !t.point) {
      t.comma = true;
      ++at_;
      whole_or_decimal();
    }
    fraction(t);
    unit(t);
    out_.push_back(std::move(t));
  }

  // "1/4", "1-1/2", "1 1/2".
  void fraction(Token& t) {
    const auto below_at = [&](std::size_t at) -> double {
      if (at >= text_.size() || text_[at] != '/' || !digit(at + 1)) return 0;
      at_ = at + 1;
      return whole_or_decimal();
    };
    if (t.point || t.comma) return;
    const std::size_t kept = at_;
    if (const double below = below_at(at_); below > 0) {
      t.value /= below;
      t.fraction = true;
      return;
    }
    const auto names_tool = [](const std::string& word) { return word == "T" || word == "TOOL"; };
    const bool of_tool =
        names_tool(t.word) ||
        (t.word.empty() && !out_.empty() && !out_.back().number && names_tool(out_.back().word));
    if (!of_tool && at_ < text_.size() && (text_[at_] == '-' || text_[at_] == ' ') &&
        digit(at_ + 1)) {
      ++at_;
      const double above = whole_or_decimal(), below = below_at(at_);
      if (below > above && above > 0) {
        t.value += above / below;
        t.fraction = true;
        return;
      }
    }
    at_ = kept;
  }

  bool negative() const {
    return at_ > 0 && text_[at_ - 1] == '-' &&
           (at_ == 1 || text_[at_ - 2] == '=' || is_letter(text_[at_ - 2]) ||
            text_[at_ - 2] == ' ');
  }

  // The letters that stand right before a number, with or without = or : between.
  std::string before() {
    std::size_t end = at_;
    if (negative()) --end;
    const std::size_t begin = end;
    bool sign = false;
    while (end > 0 && (text_[end - 1] == '=' || text_[end - 1] == ':' || text_[end - 1] == '.' ||
                       text_[end - 1] == ' ')) {
      sign = sign || text_[end - 1] == '=' || text_[end - 1] == ':' || text_[end - 1] == '.';
      --end;
    }
    if (end != begin && !sign) return {};
    if (end == 0 || !is_letter(text_[end - 1])) {
      // A sign for the diameter is no letter.
      if (end == begin && !out_.empty() && !out_.back().number && out_.back().word == "D" &&
          end > 0 && static_cast<unsigned char>(text_[end - 1]) >= 0x80)
        return take_word();
      return {};
    }
    return take_word();
  }

  std::string take_word() {
    if (out_.empty() || out_.back().number) return {};
    std::string word = out_.back().word;
    // The words of "X" between sizes stay what they are.
    if (word == "X") return {};
    out_.pop_back();
    return word;
  }

  void unit(Token& t) {
    std::size_t at = at_;
    while (at < text_.size() && text_[at] == ' ') ++at;
    if (text_.substr(at, 1) == "\"" || text_.substr(at, 2) == "''") {
      t.unit = TokenUnit::inch;
      at_ = at + 1;
      return;
    }
    if (text_.substr(at, 2) == "\xC2\xB0") {
      t.unit = TokenUnit::degrees;
      at_ = at + 2;
      return;
    }
    if (at < text_.size() && text_[at] == '-') ++at;  // "3-FLUTE", "6-MM"
    std::size_t end = at;
    while (end < text_.size() && is_letter(text_[end])) ++end;
    const std::string_view word = text_.substr(at, end - at);
    struct Unit {
      std::string_view word;
      TokenUnit unit;
    };
    constexpr std::array units = {
        Unit{"MM", TokenUnit::mm},          Unit{"IN", TokenUnit::inch},
        Unit{"INCH", TokenUnit::inch},      Unit{"INCHES", TokenUnit::inch},
        Unit{"DEG", TokenUnit::degrees},    Unit{"DEGREE", TokenUnit::degrees},
        Unit{"DEGREES", TokenUnit::degrees}};
    for (const Unit& u : units) {
      // "2 IN 6061": IN as a word of its own is an inch all the same; "MM/MIN" is a feed.
      if (word != u.word) continue;
      t.unit = u.unit;
      at_ = end;
      if (text_.substr(end, 2) == "/M" || text_.substr(end, 2) == "/T") t.taken = true;
      return;
    }
    if (end > at && (at == at_ || text_[at - 1] == '-') && word != "X") {
      t.behind = std::string(word);
      at_ = end;
    }
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::vector<Token> out_;
};

}  // namespace

std::vector<Token> tokens_of(std::string_view comment) {
  constexpr std::size_t most = 300;
  return Tokenizer(comment.substr(0, most)).all();
}

}  // namespace proveout::propose
