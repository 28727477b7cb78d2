// What to do about each finding of a run, in words for that finding rather than for its kind.
#pragma once

#include <string>
#include <vector>

#include "sim/run/result.h"

namespace proveout::checks {

// One a finding of the result, in its order; none is empty, each ends with a full stop: which cause
// to mend first where it goes with one; what the reader of the program or job said; else what the
// check of its kind advises. Errors: none.
std::vector<std::string> what_to_do(const run::JobResult& result);

}  // namespace proveout::checks
