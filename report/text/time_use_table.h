// Where the time goes and what would give some of it back, for the terminal.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::text {

// Shares, the stretches that take most, and the savings with their sum; each line ends. Empty of a
// result that takes no time.
std::string time_use_table(const run::JobResult& result);

// What the same clamping could save without a change to passes that leave the finished surface, on
// one line of 80 columns without its end; empty where nothing would, or where an error has to be
// mended first.
std::string savings_line(const run::JobResult& result);

}  // namespace proveout::text
