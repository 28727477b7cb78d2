#include "report/text/terminal.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>

namespace proveout::text {

bool is_terminal(std::FILE* stream) { return ::isatty(::fileno(stream)) == 1; }

bool wants_colour(std::FILE* stream) {
  const char* no_colour = std::getenv("NO_COLOR");
  if (no_colour != nullptr && *no_colour != '\0') return false;
  const char* term = std::getenv("TERM");
  if (term == nullptr || std::strcmp(term, "dumb") == 0) return false;
  return is_terminal(stream);
}

std::string inked(const std::string& text, Ink ink, bool colour) {
  if (!colour || ink == Ink::plain) return text;
  const char* code = ink == Ink::bold     ? "1"
                     : ink == Ink::red    ? "1;31"
                     : ink == Ink::yellow ? "33"
                     : ink == Ink::blue   ? "34"
                                          : "2";
  return fmt::format("\x1b[{}m{}\x1b[0m", code, text);
}

}  // namespace proveout::text
