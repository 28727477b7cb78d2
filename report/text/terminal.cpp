#include "report/text/terminal.h"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>

namespace proveout::text {

bool is_terminal(std::FILE* stream) { return ::isatty(::fileno(stream)) == 1; }

unsigned terminal_width(std::FILE* stream) {
  winsize size{};
  if (::ioctl(::fileno(stream), TIOCGWINSZ, &size) != 0 || size.ws_col == 0) return 80;
  return std::clamp<unsigned>(size.ws_col, 60, 120);
}

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
