// Ctrl-C and termination: asked for once, the run ends at the next step and says so.
#pragma once

#include <exception>

namespace proveout::cli {

// Says whether files were written before: by stages, or by jobs of a folder that were through.
class Interrupted : public std::exception {
 public:
  const char* what() const noexcept override;
};

// From here on a thread of its own waits for SIGINT and SIGTERM. What the parent process ignores
// stays ignored. Before any other thread is started: all must leave the two to that one.
void catch_interrupts();
bool interrupted();
// For a command that has no other end than this one: the process then ends with status 0.
void end_well_when_interrupted();
void stop_if_interrupted();  // throws Interrupted

}  // namespace proveout::cli
