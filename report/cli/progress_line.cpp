#include "report/cli/progress_line.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "report/text/terminal.h"
#include "report/text/words.h"

namespace proveout::cli {

ProgressLine::ProgressLine(bool enabled) : enabled_(enabled && text::is_terminal(stderr)) {}
ProgressLine::~ProgressLine() { clear(); }

void ProgressLine::show(const std::string& what, double share) {
  if (!due(share)) return;
  constexpr int cells = 24;
  const int full = std::clamp(static_cast<int>(std::floor(share * cells)), 0, cells);
  const std::string bar = std::string(full, '#') + std::string(cells - full, '.');
  std::fputs(fmt::format("\r{} {:3.0f} % {}\x1b[K", bar, 100 * share,
                         text::shortened(text::printable(what), 44))
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

}  // namespace proveout::cli
