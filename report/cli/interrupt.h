// Ctrl-C and termination: asked for once, the run ends at the next step and says so.
#pragma once

#include <exception>

namespace proveout::cli {

class Interrupted : public std::exception {
 public:
  const char* what() const noexcept override {
    return "stopped before the end; nothing was written";
  }
};

void catch_interrupts();
// Out of memory where no exception can pass: exit status 3 with a message. For main, not for tests.
void end_in_words();  // installs handlers for SIGINT and SIGTERM
bool interrupted();

}  // namespace proveout::cli
