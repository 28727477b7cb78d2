// What a run could not look for, for want of input: the kind of finding and why.
#pragma once

#include <vector>

#include "sim/cutting/material.h"
#include "sim/run/result.h"

namespace proveout::checks {

// From the job, and of the result its setups' tools (those that were not used are not asked for)
// and its flips. By what is lacking: the part, tools' limits and holders, setups, machine; a
// flip-mismatch for each flip that could not be told.
std::vector<run::NotChecked> not_checked(const job::Job& job, const cutting::Material& material,
                                    const run::JobResult& result);

}  // namespace proveout::checks
