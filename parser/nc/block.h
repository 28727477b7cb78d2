// One line of an NC program as words: letters with numbers, G and M codes, settings, comment.
// Grammar: NISTIR 6556 section 3.3 and appendix E.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
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

struct Setting {  // #index = value
  int index = 0;
  double value = 0;
};

struct Block {
  std::array<double, 26> value{};          // by letter, A = 0
  std::array<std::uint32_t, 26> column{};  // 0-based byte of the letter
  std::array<std::uint32_t, 26> end{};     // byte behind the number
  std::uint32_t present = 0;               // bit per letter; never G or M
  std::uint32_t pointed = 0;               // bit per letter: the number had a decimal point
  std::uint32_t words_end = 0;             // byte behind the last word, comments not counted
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
  bool any(std::string_view letters) const {
    for (char c : letters) {
      if (has(c)) return true;
    }
    return false;
  }
  void clear();
};

// Values of parameters #1..#5399.
class Parameters {
 public:
  // 0 where nothing has set it.
  double get(int index) const { return at(index).value_or(0); }
  bool is_set(int index) const { return at(index).has_value(); }
  void set(int index, double value) {
    if (values_.empty()) values_.resize(5400);
    values_[static_cast<std::size_t>(index)] = value;
  }
  static constexpr int last = 5399;
  // From here on the control's own: probed place, homes, offsets (NISTIR 6556 table 2).
  static constexpr int first_of_control = 5061;

 private:
  std::optional<double> at(int index) const {
    return values_.empty() ? std::nullopt : values_[static_cast<std::size_t>(index)];
  }
  std::vector<std::optional<double>> values_;
};

// Where a reader stands, to place its messages.
struct LineContext {
  std::string_view text;   // the line without its end
  std::uint32_t line = 0;  // 1-based
  Reporter* reporter = nullptr;
  Profile profile = Profile::shop;
};

// Reads a line into block. False where the line has an error; it is reported.
bool read_block(const LineContext& context, const Parameters& parameters, Block& block);

// A number, parameter or expression at text[at]; at moves behind it. False with a report where
// there is none. pointed: whether a plain number had a decimal point.
bool read_real_value(const LineContext& context, const Parameters& parameters,
                     std::string_view text, std::size_t& at, double& value, bool& pointed);

}  // namespace proveout::nc
