// What will have to be filed and sanded on the piece that is left: the job's motions handed to
// measure::look_at_finish. No check: nothing of it is a finding.
#pragma once

#include <memory>

#include "sim/checks/part_check.h"
#include "sim/measure/finish.h"

namespace proveout::checks {

// finished: the piece that goes on, supports taken off. Same result for any number of threads.
std::shared_ptr<const measure::Finish> look_at_finish(const run::JobResult& result,
                                                      const stock::Stock& finished,
                                                      const PartCheckInput& in);

}  // namespace proveout::checks
