// What at the end ties the part to the rest, held against the supports the job declares.
#pragma once

#include <optional>

#include "sim/run/cause.h"
#include "sim/run/result.h"

namespace proveout::causes {

// Each gives a cause without its counts, or nullopt where nothing speaks for it.

// Supports are declared and nothing holds the part at the end.
std::optional<run::Cause> supports_gone(const run::JobResult& result);
// The part is still one with its frame once the declared supports are taken off: more is left about
// it than the part itself, bridges tie it there, and nothing is cut into the part.
std::optional<run::Cause> frame_left_on(const run::JobResult& result);

}  // namespace proveout::causes
