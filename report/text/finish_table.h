// What will have to be filed and sanded, for the terminal.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::text {

// A few lines, each ending the line; empty: nothing stands up, or no run has looked.
std::string finish_table(const run::JobResult& result);

}  // namespace proveout::text
