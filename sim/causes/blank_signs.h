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

// Whether the blank still holds the part moved by that, mm, stock axes; true where it reaches out
// of it as declared, and where the blank is a mesh: then nothing is said.
bool has_room(const run::JobResult& result, const Vec3& moved);

// Whether what a gouge says is missing was never in the blank: nothing was cut there, or as much is
// missing as the part reaches out of the blank.
bool was_never_there(const run::JobResult& result, const Finding& gouge);

// The part reaches out of the blank, and what is missing of it was never there: a blank of another
// size, or with x and y swapped. A cause without its counts.
std::optional<run::Cause> lacks_part(const run::JobResult& result);

}  // namespace proveout::causes
