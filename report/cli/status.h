// Exit statuses (docs/commands.md) and the exceptions that carry them to run().
#pragma once

#include <stdexcept>
#include <string>

namespace proveout::cli {

enum Status : int {
  ran = 0,             // nothing at or above --fail-on
  found = 1,           // something at or above --fail-on
  unusable_input = 2,  // bad option, bad job file, unreadable program
  machine_failed = 3   // disk full, out of memory
};

// Thrown by commands for a wrong use of options; run() prints it with the way to help.
class UsageError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace proveout::cli
