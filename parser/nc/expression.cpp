// Numbers, parameters and expressions (NISTIR 6556 sections 3.3.2.1 to 3.3.2.4, appendix E).
#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include "parser/nc/block.h"
#include "parser/nc/suggestions.h"

namespace proveout::nc {
namespace {

constexpr int most_nesting = 50;

bool is_digit(char c) { return c >= '0' && c <= '9'; }
char upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 32) : c; }

class Evaluator {
 public:
  Evaluator(const LineContext& context, const Parameters& parameters, std::string_view text,
            std::size_t at)
      : context_(context), parameters_(parameters), text_(text), at_(at) {}

  // real_value = number | expression | parameter | unary. A sign before anything but a number is
  // not in the grammar; the shop profile takes it.
  std::optional<double> real_value(bool& pointed) {
    skip();
    if (at_ >= text_.size()) return fail("a number is missing");
    if (++depth_ > most_nesting) return fail("the expression is nested too deep");
    std::optional<double> value;
    const char c = upper(text_[at_]);
    if (c == '[') {
      value = bracket();
    } else if (c == '#') {
      value = parameter();
    } else if ((c == '-' || c == '+') && context_.profile == Profile::shop &&
               not_a_number_behind()) {
      ++at_;
      value = real_value(pointed);
      if (value && c == '-') value = -*value;
    } else if (c >= 'A' && c <= 'Z') {
      value = unary();
    } else {
      value = number(pointed);
    }
    --depth_;
    return value;
  }

  std::size_t at() const { return at_; }

 private:
  void skip() {
    while (at_ < text_.size() && (text_[at_] == ' ' || text_[at_] == '\t')) ++at_;
  }

  std::optional<double> fail(std::string what, std::string remedy = {}) {
    if (remedy.empty() && at_ < text_.size()) remedy = near_character(text_, at_);
    context_.reporter->report("expression", context_.text, context_.line,
                              std::min(at_, text_.size()), 1, std::move(what), std::move(remedy));
    return std::nullopt;
  }

  bool not_a_number_behind() const {
    std::size_t i = at_ + 1;
    while (i < text_.size() && (text_[i] == ' ' || text_[i] == '\t')) ++i;
    // A second sign is a slip of the pen or of a post, not a number turned twice.
    return i < text_.size() && !is_digit(text_[i]) && text_[i] != '.' && text_[i] != '-' &&
           text_[i] != '+';
  }

  std::optional<double> number(bool& pointed) {
    // White space is allowed even inside a number; it is gathered without it.
    std::string digits;
    bool seen_digit = false, seen_sign = false;
    pointed = false;
    std::size_t i = at_;
    for (; i < text_.size(); ++i) {
      const char c = text_[i];
      if (c == ' ' || c == '\t') continue;
      if (is_digit(c)) {
        seen_digit = true;
      } else if (c == '.' && !pointed) {
        pointed = true;
      } else if ((c == '+' || c == '-') && digits.empty() && !seen_sign) {
        seen_sign = true;
      } else {
        break;
      }
      if (c != '+') digits += c;
    }
    if (!seen_digit) return fail("a number is missing");
    double value = 0;
    const auto read = std::from_chars(digits.data(), digits.data() + digits.size(), value,
                                      std::chars_format::fixed);
    if (read.ec != std::errc()) return fail("this number is too large or too small to be held");
    at_ = i;
    return value;
  }

  std::optional<double> parameter() {
    const std::size_t start = at_++;
    bool pointed = false;
    const auto index = real_value(pointed);
    if (!index) return std::nullopt;
    if (!(std::abs(*index - std::round(*index)) <= 1e-4) || *index < 1 ||
        *index > Parameters::last) {
      context_.reporter->report(
          "parameter-index", context_.text, context_.line, std::min(at_, text_.size()), 1,
          fmt::format("#{} is no parameter; they run from #1 to #5399", *index));
      return std::nullopt;
    }
    const int number = static_cast<int>(std::lround(*index));
    if (number < Parameters::first_of_control && !parameters_.is_set(number)) {
      context_.reporter->report(
          "parameter-unset", context_.text, context_.line, start, at_ - start,
          fmt::format("#{} is read and nothing has set it before: 0 is taken", number),
          "set it in the program; a control may take what an earlier program left there");
    }
    return parameters_.get(number);
  }

  enum class Op : std::uint8_t {
    power,
    times,
    over,
    modulo,
    add,
    subtract,
    both,
    either,
    one,
    close
  };
  static int binding(Op op) {
    if (op == Op::power) return 3;
    if (op == Op::times || op == Op::over || op == Op::modulo) return 2;
    return op == Op::close ? 0 : 1;
  }

  std::optional<Op> operation() {
    skip();
    if (at_ >= text_.size()) {
      fail("the bracket is not closed");
      return std::nullopt;
    }
    const auto word = [&](std::string_view w) {
      if (text_.size() - at_ < w.size()) return false;
      for (std::size_t i = 0; i < w.size(); ++i) {
        if (upper(text_[at_ + i]) != w[i]) return false;
      }
      at_ += w.size();
      return true;
    };
    switch (upper(text_[at_])) {
      case ']':
        ++at_;
        return Op::close;
      case '+':
        ++at_;
        return Op::add;
      case '-':
        ++at_;
        return Op::subtract;
      case '/':
        ++at_;
        return Op::over;
      case '*':
        ++at_;
        if (at_ < text_.size() && text_[at_] == '*') {
          ++at_;
          return Op::power;
        }
        return Op::times;
      case 'M':
        if (word("MOD")) return Op::modulo;
        break;
      case 'A':
        if (word("AND")) return Op::both;
        break;
      case 'O':
        if (word("OR")) return Op::either;
        break;
      case 'X':
        if (word("XOR")) return Op::one;
        break;
      default:
        break;
    }
    fail("an operator is missing");
    return std::nullopt;
  }

  std::optional<double> apply(double a, Op op, double b) {
    switch (op) {
      case Op::power:
        if (a < 0 && b != std::floor(b)) return fail("a negative number to a broken power");
        return std::pow(a, b);
      case Op::times:
        return a * b;
      case Op::over:
        if (b == 0) return fail("a division by zero");
        return a / b;
      case Op::modulo: {
        if (b == 0) return fail("a remainder of a division by zero");
        const double r = std::fmod(a, b);  // not negative, as practice has it; the report is silent
        return r < 0 ? r + std::abs(b) : r;
      }
      case Op::add:
        return a + b;
      case Op::subtract:
        return a - b;
      case Op::both:
        return a != 0 && b != 0 ? 1 : 0;
      case Op::either:
        return a != 0 || b != 0 ? 1 : 0;
      case Op::one:
        return (a != 0) != (b != 0) ? 1 : 0;
      case Op::close:
        break;
    }
    return a;
  }

  // Left to right within one level of binding: values and operators on stacks.
  std::optional<double> bracket() {
    ++at_;
    std::array<double, 8> values{};
    std::array<Op, 8> ops{};
    int n = 0;
    while (true) {
      bool pointed = false;
      const auto value = real_value(pointed);
      if (!value) return std::nullopt;
      values[static_cast<std::size_t>(n)] = *value;
      const auto op = operation();
      if (!op) return std::nullopt;
      while (n > 0 && binding(ops[static_cast<std::size_t>(n - 1)]) >= binding(*op)) {
        const auto k = static_cast<std::size_t>(n);
        const auto result = apply(values[k - 1], ops[k - 1], values[k]);
        if (!result) return std::nullopt;
        values[k - 1] = *result;
        --n;
      }
      if (*op == Op::close) {
        if (!std::isfinite(values[0])) return fail("the result is not a number");
        return values[0];
      }
      ops[static_cast<std::size_t>(n)] = *op;
      ++n;
    }
  }

  std::optional<double> argument() {
    skip();
    if (at_ >= text_.size() || text_[at_] != '[') return fail("a function needs [ ] behind it");
    if (++depth_ > most_nesting) return fail("the expression is nested too deep");
    const auto value = bracket();
    --depth_;
    return value;
  }

  std::optional<double> unary() {
    const std::size_t start = at_;
    std::string word;
    while (at_ < text_.size() && upper(text_[at_]) >= 'A' && upper(text_[at_]) <= 'Z') {
      word += upper(text_[at_++]);
    }
    std::size_t which = 0;
    while (which < function_names.size() && function_names[which] != word) ++which;
    if (which == function_names.size()) {
      at_ = start;
      if (stands_for_no_number(word))
        return fail(fmt::format("'{}' is no number", word), no_number_remedy);
      const std::string meant = nearest_function(word);
      return fail(fmt::format("'{}' is no function", word.substr(0, 20)),
                  meant.empty() ? "" : fmt::format("perhaps {} was meant", meant));
    }
    const auto x = argument();
    if (!x) return std::nullopt;
    switch (which) {
      case 0:
        return std::abs(*x);
      case 1:
        if (*x < -1 || *x > 1) return fail("ACOS of a number beyond 1");
        return std::acos(*x) * deg_per_rad;
      case 2:
        if (*x < -1 || *x > 1) return fail("ASIN of a number beyond 1");
        return std::asin(*x) * deg_per_rad;
      case 3: {
        skip();
        if (at_ >= text_.size() || text_[at_] != '/')
          return fail("ATAN needs two arguments, ATAN[y]/[x]");
        ++at_;
        const auto other = argument();
        if (!other) return std::nullopt;
        return std::atan2(*x, *other) * deg_per_rad;
      }
      case 4:
        return std::cos(*x / deg_per_rad);
      case 5:
        return std::exp(*x);
      case 6:
        return std::floor(*x);
      case 7:
        return std::ceil(*x);
      case 8:
        if (*x <= 0) return fail("LN of a number not above 0");
        return std::log(*x);
      case 9:
        return std::round(*x);
      case 10:
        return std::sin(*x / deg_per_rad);
      case 11:
        if (*x < 0) return fail("SQRT of a negative number");
        return std::sqrt(*x);
      default:
        return std::tan(*x / deg_per_rad);
    }
  }

  const LineContext& context_;
  const Parameters& parameters_;
  std::string_view text_;
  std::size_t at_;
  int depth_ = 0;
};

}  // namespace

bool read_real_value(const LineContext& context, const Parameters& parameters,
                     std::string_view text, std::size_t& at, double& value, bool& pointed) {
  Evaluator evaluator(context, parameters, text, at);
  pointed = true;
  const auto result = evaluator.real_value(pointed);
  at = evaluator.at();
  if (!result) return false;
  value = *result;
  return true;
}

}  // namespace proveout::nc
