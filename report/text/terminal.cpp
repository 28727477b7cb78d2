#include "report/text/terminal.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <cstring>

#include "report/text/words.h"

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

ProgressLine::ProgressLine(bool enabled) : enabled_(enabled && is_terminal(stderr)) {}
ProgressLine::~ProgressLine() { clear(); }

void ProgressLine::show(const std::string& what, double share) {
  if (!enabled_) return;
  const auto now = std::chrono::steady_clock::now();
  if (drawn_ && share < 1 && now - last_ < std::chrono::milliseconds(100)) return;
  last_ = now;
  drawn_ = true;
  constexpr int cells = 24;
  const int full = std::clamp(static_cast<int>(std::floor(share * cells)), 0, cells);
  const std::string bar = std::string(full, '#') + std::string(cells - full, '.');
  std::fputs(
      fmt::format("\r{} {:3.0f} % {}\x1b[K", bar, 100 * share, shortened(printable(what), 44))
          .c_str(),
      stderr);
  std::fflush(stderr);
}

void ProgressLine::clear() {
  if (!drawn_) return;
  std::fputs("\r\x1b[K", stderr);
  std::fflush(stderr);
  drawn_ = false;
}

}  // namespace proveout::text
