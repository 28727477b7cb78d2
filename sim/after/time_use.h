// Where a run's time goes, what binds there, and what would give some of it back. The changes are
// worked out one on top of the other, so their seconds add up: docs/timing.md.
#pragma once

#include <memory>

#include "sim/run/result.h"
#include "sim/run/time_use.h"

namespace proveout::after {

using run::Binds;
using run::Change;
using run::change_count;
using run::name;
using run::path_changes;
using run::Saving;
using run::Stretch;
using run::TimeUse;

// Estimates like the time itself. Of a result without inputs nothing is saved. Errors: none.
TimeUse time_use(const run::JobResult& result);

// What the result holds, or, where it holds none, worked out; never null.
std::shared_ptr<const TimeUse> time_use_of(const run::JobResult& result);

}  // namespace proveout::after
