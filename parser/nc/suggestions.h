// What a word that is not understood may have been meant to be.
#pragma once

#include <string>
#include <string_view>

namespace proveout::nc {

// NAN, INF: what a post writes for a number it could not work out. word: upper case.
bool stands_for_no_number(std::string_view word);
inline constexpr const char* no_number_remedy =
    "the post could not work this number out: mend it there";

// R1, Q5 and the like where a number is due.
inline constexpr const char* variable_remedy =
    "a variable of another dialect: post the number itself, or #1 to #5399";

// The function of the language (NISTIR 6556 table 5 of expressions: ABS to TAN) within one letter
// of word, upper case; empty where there is none, or word is one.
std::string nearest_function(std::string_view word);

// "perhaps G54 was meant" for G5.4 and the like: a code with the same digits, or with a letter O
// for a zero. tenths: the code times ten. Empty where nothing lies near.
std::string near_g_code(int tenths);

// What a run of letters without a number is where it is known from elsewhere: a word of other
// dialects, of flow, of printing. run: upper case; rest: the line from its first letter on. what is
// empty where it is nothing known.
struct OtherDialect {
  std::string_view code;
  std::string what, remedy;
};
OtherDialect word_of_another_dialect(std::string_view run, std::string_view rest);

// The remedy for a character that begins no word at text[at]: a comma for a point, a letter O for a
// zero.
std::string near_character(std::string_view text, std::size_t at);

}  // namespace proveout::nc
