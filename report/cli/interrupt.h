// Ctrl-C and termination: asked for once, the run ends at the next step and says so.
#pragma once

#include <exception>

namespace proveout::cli {

// Says whether files were written before: by stages, or by jobs of a folder that were through.
class Interrupted : public std::exception {
 public:
  const char* what() const noexcept override;
};

void catch_interrupts();  // installs handlers for SIGINT and SIGTERM
// Out of memory where no exception can pass: exit status 3 with a message. For main, not for tests.
void end_in_words();
bool interrupted();
void stop_if_interrupted();  // throws Interrupted

}  // namespace proveout::cli
