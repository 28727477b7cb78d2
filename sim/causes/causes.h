// Puts what was found behind the findings in order: the cause that explains most first.
#pragma once

#include <string>
#include <vector>

#include "sim/causes/shift_fit.h"
#include "sim/run/cause.h"
#include "sim/run/inputs.h"
#include "sim/run/result.h"

namespace proveout::causes {

// shifts: one a setup of the result, not found where none was looked for. result: whole but for its
// causes and verdict, its findings taken. A cause explains errors and warnings of the kinds it
// makes in its setup (a wrong zero also in setups zeroed on what it milled); one that explains
// nothing is left out.
std::vector<run::Cause> find_causes(const run::JobResult& result,
                                    const std::vector<ShiftFit>& shifts);

// Whether a shift is worth looking for: errors or warnings of a part cut wrongly.
bool looks_shifted(const std::vector<Finding>& findings);

// Gives gouges and material left on the part that no cause explains the detail "confined" where
// next to all else their setup made of the part lies on it and no shift fits better. result: with
// causes.
void tell_confined(run::JobResult& result, const std::vector<ShiftFit>& shifts);

// Whether comments of the programs name another tool or blank than the job does, and what was cut
// does not fit the part better with the job's. result: its setups; shifts: one a setup.
bool comments_contradict(const run::JobResult& result, const std::vector<Finding>& findings,
                         const std::vector<ShiftFit>& shifts);

}  // namespace proveout::causes
