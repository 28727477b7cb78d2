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
  if (c == '<' || (c == '#' && at + 1 < text.size() && text[at + 1] == '<'))
    return "named parameters are not read: use #1 to #5399";
  return {};
}

}  // namespace proveout::nc
