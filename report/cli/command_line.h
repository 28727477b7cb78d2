// The command line: sub-commands, options, messages and exit codes.
#pragma once

namespace proveout::cli {

// Runs the command and returns the exit status: 0 ran, nothing at or above --fail-on; 1 ran, and
// something was; 2 the input could not be used; 3 the machine failed us.
int run(int argument_count, char** arguments);

}  // namespace proveout::cli
