// One line of an NC program as words: letters with numbers, G and M codes, settings, comment.
// Grammar: NISTIR 6556 section 3.3 and appendix E.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/nc/codes.h"
#include "parser/nc/program.h"

namespace proveout::nc {

// The functions of the language (NISTIR 6556 section 3.3.2.4), in the order the evaluator knows
// them by.
inline constexpr std::array<std::string_view, 13> function_names = {
    "ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"};

struct Code {
  std::int16_t tenths = 0;   // G54 is 540, G59.1 is 591, M3 is 30
  std::uint16_t column = 0;  // 0-based byte of its letter
};

struct Setting {  // #index = value; nullopt: of #0, which makes it vacant again
  int index = 0;
  std::optional<double> value;
};

// A corner word, ,R or ,C: what is to be done at the end of the line's straight move.
struct CornerWord {
  std::optional<double> size;  // file units; radius of ,R or setback of ,C
  bool chamfer = false;
  std::uint32_t column = 0;  // 0-based byte of the comma
  std::uint32_t end = 0;     // byte behind the number
  bool pointed = true;       // false: a plain number without a decimal point
};

struct Block {
  std::array<double, 26> value{};          // by letter, A = 0
  std::array<std::uint32_t, 26> column{};  // 0-based byte of the letter
  std::array<std::uint32_t, 26> end{};     // byte behind the number
  std::uint32_t present = 0;               // bit per letter; never G or M
  std::uint32_t pointed = 0;               // bit per letter: a decimal point, or no plain number
  std::uint32_t padded = 0;     // bit per letter: a whole number with a point, 20. or 20.00; not 0
  std::uint32_t words_end = 0;  // byte behind the last word, comments not counted
  mutable std::uint32_t used = 0;  // bit per letter: something on the line has taken it
  int decimals = 0;                // most places behind the point of X Y I J R
  CornerWord corner;
  mutable bool corner_used = false;
  int g_count = 0, m_count = 0;
  std::array<Code, 16> g{};
  std::array<Code, 8> m{};
  std::vector<Setting> settings;
  std::string_view comment;  // text of the last comment, without brackets
  bool has_comment = false;
  bool deleted = false;         // began with '/'
  bool percent = false;         // only '%'
  bool program_number = false;  // O word or ':' at its start
  int o_number = 0;

  bool has(char letter) const { return present >> (letter - 'A') & 1; }
  double operator[](char letter) const { return value[static_cast<std::size_t>(letter - 'A')]; }
  bool has_point(char letter) const { return pointed >> (letter - 'A') & 1; }
  // Marks the word as used: words that are not are reported once the block is carried out.
  bool take(char letter) const {
    used |= 1u << (letter - 'A');
    return has(letter);
  }
  void take_all(std::string_view letters) const {
    for (char c : letters) take(c);
  }
  bool any(std::string_view letters) const {
    for (char c : letters) {
      if (has(c)) return true;
    }
    return false;
  }
  // Whether what stands on the line of these is 0.
  bool only_zeros(std::string_view letters) const {
    for (char c : letters) {
      if (has(c) && (*this)[c] != 0) return false;
    }
    return true;
  }
  void clear();
};

// Values of parameters #1..#5399.
class Parameters {
 public:
  // 0 where nothing has set it.
  double get(int index) const {
    use_.read |= bit(index) & use_.as_given;
    return at(index).value_or(0);
  }
  bool is_set(int index) const {
    use_.read |= bit(index) & use_.as_given;
    return at(index).has_value();
  }
  void set(int index, double value) {
    if (values_.empty()) values_.resize(5400);
    use_.as_given &= ~bit(index);
    if (!emptied_.empty()) emptied_.erase(index);
    values_[static_cast<std::size_t>(index)] = value;
  }
  void unset(int index) {
    use_.as_given &= ~bit(index);
    emptied_.insert(index);
    if (!values_.empty()) values_[static_cast<std::size_t>(index)].reset();
  }
  // Whether the program itself has made it vacant, by #n = #0 and the like.
  bool emptied(int index) const { return emptied_.contains(index); }
  // The local ones, #1 to #33, are a macro call's own: they begin vacant, and come back behind it.
  using Locals = std::array<std::optional<double>, 33>;
  Locals take_locals();
  void restore_locals(const Locals& locals);
  static constexpr int last_local = 33;
  // Of the local ones, bit by number: which still hold what restore_locals gave them, and which
  // were read while they did.
  struct Use {
    std::uint64_t as_given = ~std::uint64_t{0}, read = 0;
  };
  Use swap_use(Use use) { return std::exchange(use_, use); }
  // From here on practice has the control's own values: places, modes, times.
  static constexpr int first_of_practice = 1000;
  // G28 and G30 go there (NISTIR 6556 table 2); from first_of_offsets on are G92's and those of G54
  // to G59.3.
  static constexpr bool is_home(int index) {
    return (index >= 5161 && index <= 5166) || (index >= 5181 && index <= 5186);
  }
  static constexpr int first_of_offsets = 5201;
  static constexpr int work_offset_number = 5220;  // 1 until a work offset is called
  static constexpr int last = 5399;
  // From here on the control's own: probed place, homes, offsets (NISTIR 6556 table 2).
  static constexpr int first_of_control = 5061;

 private:
  std::optional<double> at(int index) const {
    return values_.empty() ? std::nullopt : values_[static_cast<std::size_t>(index)];
  }
  static std::uint64_t bit(int index) {
    return index <= last_local ? std::uint64_t{1} << index : 0;
  }
  std::vector<std::optional<double>> values_;
  std::set<int> emptied_;
  mutable Use use_;
};

// Where a reader stands, to place its messages.
struct LineContext {
  std::string_view text;   // the line without its end
  std::uint32_t line = 0;  // 1-based
  Reporter* reporter = nullptr;
  Profile profile = Profile::shop;
  std::size_t begin = 0;  // where in text the block begins: behind IF [..] THEN
  bool in_macro = false;  // under G65: a vacant local is an error, not 0
  // Those read on this line so far; nullptr: nobody asks.
  const std::vector<Setting>* settings = nullptr;
};

// Reads a line into block. False where the line has an error; it is reported.
bool read_block(const LineContext& context, const Parameters& parameters, Block& block);

// A number, parameter or expression at text[at]; at moves behind it. False with a report where
// there is none. pointed: whether a plain number had a decimal point.
bool read_real_value(const LineContext& context, const Parameters& parameters,
                     std::string_view text, std::size_t& at, double& value, bool& pointed);

// The same without brackets, as far as operators go on; nullopt in value: a vacant parameter alone.
bool read_open_expression(const LineContext& context, const Parameters& parameters,
                          std::string_view text, std::size_t& at, std::optional<double>& value);

}  // namespace proveout::nc
