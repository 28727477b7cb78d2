// Nothing of the part is left.
#pragma once

#include "sim/run/finding.h"

namespace proveout::checks {

// The one finding instead of all others about the part; without its place. mm3, meant_mm3 above 0.
Finding part_lost(double missing_mm3, double meant_mm3);

}  // namespace proveout::checks
