// A program with fewer motions that cuts the same on a coarse stock.
#pragma once

#include "parser/nc/program.h"

namespace proveout::checks {

// The program with runs of short straight cuts made one, where no point lies further than tolerance
// (mm) from the one line: on the coarse stock of a search they cut the same, and a sculpted pass
// has thousands of them.
nc::Program straightened(const nc::Program& program, double tolerance);

}  // namespace proveout::checks
