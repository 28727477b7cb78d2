// In place of report/cli/progress_line.cpp in a page: progress goes to the page, not to a terminal.
#include "report/cli/progress_line.h"

#include <emscripten.h>

// clang-format off
EM_JS(void, show_progress, (const char* what, double share), {
  if (Module['showProgress']) Module['showProgress'](UTF8ToString(what), share);
});
// clang-format on

namespace proveout::cli {

ProgressLine::ProgressLine(bool enabled) : enabled_(enabled) {}
ProgressLine::~ProgressLine() = default;

void ProgressLine::show(const std::string& what, double share) {
  if (!due(share)) return;
  show_progress(what.c_str(), share);
}

void ProgressLine::clear() { drawn_ = false; }

}  // namespace proveout::cli
