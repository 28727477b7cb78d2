// The figures calibration fits, as places in a machine.
#pragma once

#include "sim/after/calibrate.h"

namespace proveout::after {

// Sets the figure, in its unit, the axes of those with three in proportion as they are.
void set(Figure figure, double value, job::Machine& machine);
// Where a figure is 0 there is no factor to search: the search starts from a usual size (common
// practice, no source).
double starting_value(Figure figure, const job::Machine& machine);
// The factor of a leeway that stands for the figure.
double job::Leeway::*leeway_of(Figure figure);
// A wait: what motions take does not depend on it.
bool is_wait(Figure figure);

}  // namespace proveout::after
