#include "parser/nc/suggestions.h"

#include <fmt/format.h>

#include <algorithm>

#include "parser/nc/block.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

// Whether a and b differ by one letter put in, left out, changed or swapped with its neighbour.
bool one_apart(std::string_view a, std::string_view b) {
  if (a.size() > b.size()) std::swap(a, b);
  if (b.size() - a.size() > 1) return false;
  std::size_t head = 0, tail = 0;
  while (head < a.size() && a[head] == b[head]) ++head;
  while (tail < a.size() - head && a[a.size() - 1 - tail] == b[b.size() - 1 - tail]) ++tail;
  const std::size_t left = a.size() - head - tail;
  if (b.size() != a.size()) return left == 0;
  return left == 1 || (left == 2 && a[head] == b[head + 1] && a[head + 1] == b[head]);
}

bool digit(char c) { return c >= '0' && c <= '9'; }

}  // namespace

bool stands_for_no_number(std::string_view word) {
  return word == "NAN" || word == "INF" || word == "INFINITY";
}

std::string nearest_function(std::string_view word) {
  std::string found;
  for (std::string_view f : function_names) {
    if (word == f) return {};
    if (found.empty() && one_apart(word, f)) found = f;
  }
  return found;
}

std::string near_g_code(int tenths) {
  const auto known = [](int t) {
    const Group g = group_of_g(t);
    return g != Group::unknown && g != Group::refused && g != Group::passed_over;
  };
  // G5.4 for G54, and G541 for G54.1 or G591 for G59.1.
  if (tenths % 10 != 0 && known(tenths * 10)) return fmt::format("perhaps G{} was meant", tenths);
  if (tenths % 10 == 0 && tenths >= 1000 && known(tenths / 10))
    return fmt::format("perhaps G{:g} was meant", tenths / 100.0);
  return {};
}

OtherDialect word_of_another_dialect(std::string_view run, std::string_view rest) {
  const std::size_t behind = std::min(rest.find_first_not_of(" \t", run.size()), rest.size());
  const char next = behind < rest.size() ? rest[behind] : '\0';
  constexpr std::string_view flow[] = {"IF",  "WHILE", "GOTO",  "END",   "DO",     "THEN",
                                       "SUB", "CALL",  "ELSE",  "ENDIF", "REPEAT", "UNTIL",
                                       "FOR", "GOTOF", "GOTOB", "LABEL", "RETURN"};
  if (std::find(std::begin(flow), std::end(flow), run) != std::end(flow)) {
    return {"flow-word", fmt::format("'{}' steers the program in a way that is not followed", run),
            "IF [..] GOTO n, IF [..] THEN, WHILE [..] DOn, ENDn and GOTO n are followed; post "
            "without the rest"};
  }
  constexpr std::string_view print[] = {"DPRNT", "BPRNT", "POPEN", "PCLOS", "PRINT",
                                        "PUT",   "MSG",   "OPEN",  "CLOSE", "WRITE"};
  if (std::find(std::begin(print), std::end(print), run) != std::end(print)) {
    return {"other-dialect", fmt::format("'{}' prints or shows something: it is not followed", run),
            "it moves nothing: post without it, or put it in brackets as a comment"};
  }
  constexpr std::string_view variables[] = {"DEF",  "PROC", "VAR", "VC",  "VS",    "LOCAL",
                                            "REAL", "INT",  "SET", "DIM", "EXTERN"};
  if (std::find(std::begin(variables), std::end(variables), run) != std::end(variables)) {
    return {"other-dialect", fmt::format("'{}' belongs to variables of another dialect", run),
            "post the numbers themselves, or #1 to #5399"};
  }
  if (run == "AC" || run == "IC" || run == "DC" || (next == '=' && rest.find("C(") < 12)) {
    return {"other-dialect",
            "a number with its own absolute or incremental mode, of another dialect",
            "post with G90 and G91"};
  }
  if (run == "CR" && next == '=') {
    return {"other-dialect", "'CR=' is an arc's radius in another dialect", "post it as R"};
  }
  if (next == '=' && behind + 1 < rest.size() && rest[behind + 1] == '"') {
    return {"other-dialect", fmt::format("'{}=\"' names something by a text", run),
            "post numbers: T1 for a tool, P1 for a program"};
  }
  if (next == '=') {
    return {"other-dialect",
            fmt::format("'{}=' sets something by another dialect's rules", run.substr(0, 20)),
            "post words of a letter and a number; parameters are set as #1=2"};
  }
  return {};
}

std::string near_character(std::string_view text, std::size_t at) {
  const bool behind_digit = at > 0 && digit(text[at - 1]);
  const bool before_digit = at + 1 < text.size() && digit(text[at + 1]);
  if (text[at] == ',' && (behind_digit || before_digit)) return "write decimals with a point";
  const std::string_view bytes = text.substr(at, 3);
  if (bytes == "\xE2\x88\x92" || bytes == "\xE2\x80\x93" || bytes == "\xE2\x80\x94")
    return "write minus as a plain -";
  const char c = text[at];
  const bool after_letter = at > 0 && text[at - 1] >= 'A' && text[at - 1] <= 'Z';
  if ((c == 'O' || c == 'o') && (behind_digit || after_letter))
    return "perhaps the digit 0 was meant";
  if (c == '=') return "a word is a letter and a number; parameters are set as #1=2";
  if (c == '"') return "texts stand in brackets, as comments";
  if (c == '<' || (c == '#' && at + 1 < text.size() && text[at + 1] == '<'))
    return "named parameters are not read: use #1 to #5399";
  return {};
}

}  // namespace proveout::nc
