// Numbers, parameters and expressions (NISTIR 6556 sections 3.3.2.1 to 3.3.2.4, appendix E).
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <optional>
#include <span>
#include <utility>

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

  // Whether what was found vacant is one that the control itself fills.
  bool found_value_of_control() const { return vacant_ >= Parameters::first_of_practice; }

  // Operators and numbers from here as far as they go on, without brackets.
  std::optional<double> open_expression() { return chain(false); }

  // A vacant parameter is 0 where a number is needed, and that is said: once it is looked at.
  std::optional<double> settled(std::optional<double> value) {
    if (!value || !std::isnan(*value)) return value;
    vacant_global_ = 0;
    if (vacant_ == 0) return zeroth();
    if (context_.in_macro && vacant_ <= Parameters::last_local) {
      context_.reporter->report("parameter-vacant", context_.text, context_.line, vacant_at_, 1,
                                fmt::format("#{} is read and the call did not set it", vacant_),
                                "give the call the argument's letter, or ask IF [#n EQ #0] first");
      return std::nullopt;
    }
    if (context_.profile == Profile::shop && found_value_of_control()) {
      context_.reporter->report(
          "control-value", context_.text, context_.line, vacant_at_, 1,
          fmt::format("#{} is a value of the control's own, which is not known here", vacant_),
          "set it in the program, or post what it would be");
      return std::nullopt;
    }
    if (context_.reporter->failed()) return 0.0;  // its setting may be on a line with a mistake
    context_.reporter->report(
        "parameter-unset", context_.text, context_.line, vacant_at_, vacant_length_,
        fmt::format("#{} is read and nothing has set it before: 0 is taken", vacant_),
        "set it in the program; a control may take what an earlier program left there");
    return 0.0;
  }

 private:
  std::optional<double> zeroth() {
    context_.reporter->report("parameter-index", context_.text, context_.line,
                              std::min(vacant_at_, text_.size()), 1,
                              "#0 is no parameter; they run from #1 to #5399",
                              "#0 is read in IF [#n EQ #0] and #n = #0 alone");
    return std::nullopt;
  }
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
    std::size_t i = at_, behind = at_;  // behind: the last of the number so far
    bool spaced = false;
    for (; i < text_.size(); ++i) {
      const char c = text_[i];
      if (c == ' ' || c == '\t') continue;
      const bool part = is_digit(c) || (c == '.' && !pointed);
      spaced = spaced || (part && i > behind && (seen_digit || pointed));
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
      behind = i + 1;
    }
    if (!seen_digit) return fail("a number is missing");
    if (spaced) tell_of_spaces(behind, digits);
    double value = 0;
    const auto read = std::from_chars(digits.data(), digits.data() + digits.size(), value,
                                      std::chars_format::fixed);
    if (read.ec != std::errc()) return fail("this number is too large or too small to be held");
    at_ = i;
    return value;
  }

  // The report allows white space within numbers (3.3.2); a letter left out looks the same.
  void tell_of_spaces(std::size_t behind, const std::string& digits) const {
    if (context_.profile != Profile::shop) return;
    context_.reporter->report(
        "number-spaced", context_.text, context_.line, at_, behind - at_,
        fmt::format("the spaces within this number are passed over: it is read as {}", digits),
        "take them out, or put in the letter that is missing");
  }

  std::optional<double> parameter() {
    const std::size_t start = at_++;
    bool pointed = false;
    const auto index = settled(real_value(pointed));
    if (!index) return std::nullopt;
    const bool shop = context_.profile == Profile::shop;
    if (!(std::abs(*index - std::round(*index)) <= 1e-4) || *index < (shop ? 0 : 1) ||
        *index > Parameters::last) {
      context_.reporter->report(
          "parameter-index", context_.text, context_.line, std::min(at_, text_.size()), 1,
          fmt::format("#{} is no parameter; they run from #1 to #5399", *index));
      return std::nullopt;
    }
    const int number = static_cast<int>(std::lround(*index));
    const bool unset = number == 0 || !parameters_.is_set(number);
    if (unset && number == Parameters::work_offset_number) return 1.0;
    if (unset && (number < Parameters::first_of_control || shop)) {
      vacant_ = number;
      vacant_at_ = start;
      vacant_length_ = at_ - start;
      if (number != 0 && !parameters_.emptied(number) &&
          (number > Parameters::last_local || !context_.in_macro)) {
        vacant_global_ = number;
        global_at_ = start;
      }
      return std::numeric_limits<double>::quiet_NaN();
    }
    const double value = parameters_.get(number);
    tell_of_setting(number, start, value);
    return value;
  }

  // All settings of a line act behind it (NISTIR 6556 3.3.3); some controls carry them out as they
  // come.
  void tell_of_setting(int number, std::size_t start, double value) {
    if (context_.settings == nullptr || context_.profile != Profile::shop) return;
    // The latest alone, more than any line of a program has: lines of millions stay linear.
    const std::span<const Setting> all(*context_.settings);
    for (const Setting& s : all.last(std::min<std::size_t>(all.size(), 64))) {
      if (s.index != number || s.value == value) continue;
      context_.reporter->report(
          "expression-dialect", context_.text, context_.line, start, at_ - start,
          fmt::format("#{} is set on this line: it is {:g} here, as before the line; some controls "
                      "take what was just set",
                      number, value),
          "give the setting a line of its own");
      return;
    }
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
    equal,
    not_equal,
    greater,
    greater_or_equal,
    less,
    less_or_equal,
    close
  };
  static bool compares(Op op) { return op >= Op::equal && op <= Op::less_or_equal; }
  static bool combines(Op op) { return op == Op::both || op == Op::either || op == Op::one; }
  static int binding(Op op) {
    if (op == Op::power) return 4;
    if (op == Op::times || op == Op::over || op == Op::modulo) return 3;
    return op == Op::close ? 0 : compares(op) ? 1 : 2;
  }

  // brackets: it must come, or ']' ends; else what is no operator ends too.
  std::optional<Op> operation(bool brackets) {
    skip();
    if (at_ >= text_.size()) {
      if (!brackets) return Op::close;
      fail("the bracket is not closed", "every '[' needs its ']'");
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
        if (brackets) ++at_;
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
        if (!brackets && sum_of_bytes()) return Op::close;
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
    if (context_.profile == Profile::shop) {
      constexpr std::pair<std::string_view, Op> comparisons[] = {
          {"EQ", Op::equal},   {"NE", Op::not_equal},
          {"GT", Op::greater}, {"GE", Op::greater_or_equal},
          {"LT", Op::less},    {"LE", Op::less_or_equal}};
      for (const auto& [name, op] : comparisons) {
        if (word(name)) return op;
      }
    }
    if (!brackets) return Op::close;
    fail("an operator is missing");
    return std::nullopt;
  }

  // '*' and digits that end the line behind a space: a check sum, not a product.
  bool sum_of_bytes() const {
    std::size_t i = at_ + 1;
    while (i < text_.size() && is_digit(text_[i])) ++i;
    return i > at_ + 1 && i == text_.size() && at_ > 0 && text_[at_ - 1] == ' ';
  }

  void differs(std::string what) {
    if (context_.profile != Profile::shop) return;
    context_.reporter->report("expression-dialect", context_.text, context_.line,
                              std::min(at_, text_.size()), 1, std::move(what),
                              "post the number itself");
  }

  static double truth(bool held) { return held ? 1 : 0; }

  std::optional<double> compare(double a, Op op, double b) {
    if (op == Op::equal || op == Op::not_equal) {
      if ((std::isnan(a) || std::isnan(b)) && !vacancy_is_known(std::isnan(a) && std::isnan(b)))
        return std::nullopt;
      // A vacant parameter equals a vacant one alone.
      const bool equal = std::isnan(a) || std::isnan(b) ? std::isnan(a) && std::isnan(b) : a == b;
      return truth(equal == (op == Op::equal));
    }
    const auto x = settled(a), y = settled(b);
    if (!x || !y) return std::nullopt;
    switch (op) {
      case Op::greater:
        return truth(*x > *y);
      case Op::greater_or_equal:
        return truth(*x >= *y);
      case Op::less:
        return truth(*x < *y);
      default:
        return truth(*x <= *y);
    }
  }

  // A local is vacant where its call gave it no argument; so is what the program has emptied. What
  // others hold that nothing here has set is the earlier program's or the control's own.
  // asked: the other side is vacant as well.
  bool vacancy_is_known(bool asked) {
    const int number = std::exchange(vacant_global_, 0);
    if (number == 0 || (asked && number <= Parameters::last_local)) return true;
    if (context_.profile == Profile::shop && number >= Parameters::first_of_practice) {
      context_.reporter->report(
          "control-value", context_.text, context_.line, global_at_, 1,
          fmt::format("#{} is a value of the control's own, which is not known here", number),
          "set it in the program, or post what it would be");
      return false;
    }
    if (context_.reporter->failed()) return true;
    return context_.reporter->report(
        "parameter-unset", context_.text, context_.line, global_at_, 1,
        fmt::format("#{} is compared and nothing has set it before: it is taken as vacant, which "
                    "equals no number",
                    number),
        "set it in the program; a control may take what an earlier program left there");
  }

  std::optional<double> apply(double left, Op op, double right) {
    if (compares(op)) return compare(left, op, right);
    const auto one = settled(left), other = settled(right);
    if (!one || !other) return std::nullopt;
    const auto result = worked_out(*one, op, *other);
    if (result && !std::isfinite(*result)) return fail("the result is not a number");
    return result;
  }

  std::optional<double> worked_out(double a, Op op, double b) {
    const auto bit = [](double v) { return v == 0 || v == 1; };
    if (combines(op) && !(bit(a) && bit(b)))
      differs("AND, OR and XOR ask whether numbers are 0 here; some controls work bit by bit");
    if (op == Op::modulo && (a < 0 || b < 0))
      differs("MOD of a negative number is not negative here; on some controls it is");
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
      default:
        break;
    }
    return a;
  }

  std::optional<double> bracket() {
    ++at_;
    const auto value = settled(chain(true));
    if (value && !std::isfinite(*value)) return fail("the result is not a number");
    return value;
  }

  // Left to right within one level of binding: values and operators on stacks.
  std::optional<double> chain(bool brackets) {
    std::array<double, 8> values{};
    std::array<Op, 8> ops{};
    int n = 0;
    bool compared = false, combined = false, added = false;
    while (true) {
      bool pointed = false;
      const auto value = real_value(pointed);
      if (!value) return std::nullopt;
      values[static_cast<std::size_t>(n)] = *value;
      const auto op = operation(brackets);
      if (!op) return std::nullopt;
      compared = compared || compares(*op);
      combined = combined || combines(*op);
      added = added || *op == Op::add || *op == Op::subtract;
      if (compared && combined) {
        return fail("comparisons beside AND, OR or XOR in one pair of brackets",
                    "give each comparison brackets of its own");
      }
      while (n > 0 && binding(ops[static_cast<std::size_t>(n - 1)]) >= binding(*op)) {
        const auto k = static_cast<std::size_t>(n);
        const auto result = apply(values[k - 1], ops[k - 1], values[k]);
        if (!result) return std::nullopt;
        values[k - 1] = *result;
        --n;
      }
      if (*op == Op::close) {
        if (combined && added)
          differs("AND, OR and XOR bind as + and - do here; AND binds closer on some controls");
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
      if (word.size() == 1 && start + 1 < text_.size() && is_digit(text_[start + 1]) && word != "O")
        return fail(fmt::format("'{}' is no number", word), variable_remedy);
      return fail(fmt::format("'{}' is no function", word.substr(0, 20)),
                  meant.empty() ? "" : fmt::format("perhaps {} was meant", meant));
    }
    const auto x = argument();
    if (!x) return std::nullopt;
    if ((which == 6 || which == 7) && *x < 0 && *x != std::round(*x))
      differs("FIX takes a negative number down here and FUP up; some controls cut it off");
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
  int vacant_ = 0;  // the parameter last found vacant, and where
  std::size_t vacant_at_ = 0, vacant_length_ = 1;
  // The same of those that no call gives: outside macros, and common ones.
  int vacant_global_ = 0;
  std::size_t global_at_ = 0;
};

}  // namespace

bool read_real_value(const LineContext& context, const Parameters& parameters,
                     std::string_view text, std::size_t& at, double& value, bool& pointed) {
  Evaluator evaluator(context, parameters, text, at);
  pointed = true;
  const auto result = evaluator.settled(evaluator.real_value(pointed));
  at = evaluator.at();
  if (!result) return false;
  value = *result;
  return true;
}

bool read_open_expression(const LineContext& context, const Parameters& parameters,
                          std::string_view text, std::size_t& at, std::optional<double>& value) {
  Evaluator evaluator(context, parameters, text, at);
  const auto result = evaluator.open_expression();
  at = evaluator.at();
  if (!result) return false;
  value = std::isnan(*result) ? std::nullopt : result;
  return value || !evaluator.found_value_of_control() || evaluator.settled(result);
}

}  // namespace proveout::nc
