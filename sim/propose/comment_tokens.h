// A comment cut into words and numbers, for the readers of sim/propose/comment_words.h.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace proveout::propose {

enum class TokenUnit { none, mm, inch, degrees };

struct Token {
  bool number = false;
  std::string word;  // upper case; of a number: what stands directly before it ("D", "CR=")
  double value = 0;  // as written
  TokenUnit unit = TokenUnit::none;
  std::string behind;     // of a number: letters directly behind it that are no unit ("FL" of 3FL)
  bool fraction = false;  // "1/4", "1-1/2": inches
  bool point = false;     // written with a decimal point
  bool comma = false;     // "6,35": a decimal comma or a list, nobody can tell
  bool taken = false;     // its meaning is known
};

// comment: upper case. Words of letters only; signs between tokens are dropped, but for "X" and
// "*" between numbers, which become the word "X".
std::vector<Token> tokens_of(std::string_view comment);

}  // namespace proveout::propose
