// Words and numbers of mesh files in text.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace proveout::mesh {

// The next word of text, which is shortened by it; empty at the end.
std::string_view take_word(std::string_view& text);

// Letters may be of either case.
bool same_word(std::string_view word, std::string_view lower_case);

// A decimal number, nan and inf; what is too large becomes infinite. False for anything else.
bool read_number(std::string_view word, double& value);

// The word as a message may show it: short, and nothing but printable ASCII.
std::string shown(std::string_view word);

// The words of a text with their lines.
class Words {
 public:
  explicit Words(std::string_view text) : text_(text) {}
  std::string_view next();  // empty at the end
  void skip_line();         // to behind the end of the line the last word stands on
  bool at_end();
  std::size_t line() const { return line_; }  // of the last word, from 1 on

 private:
  void skip_blanks();
  std::string_view text_;
  std::size_t at_ = 0, line_ = 1;
};

}  // namespace proveout::mesh
