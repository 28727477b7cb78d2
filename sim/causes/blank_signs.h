// What the programs cover, held against the declared blank.
#pragma once

#include <optional>

#include "sim/run/cause.h"
#include "sim/run/result.h"

namespace proveout::causes {

// What the first setup's feed moves cover stands far out of the blank along one of x and y, leaves
// much of it along the other, and fits it with the two swapped. A cause without its counts.
// blank: in that setup's frame, mm.
std::optional<run::Cause> sides_swapped(const run::SetupResult& setup, const Box3& blank);

}  // namespace proveout::causes
