// The loads of every motion, and the checks that follow a tool's samples.
#pragma once

#include "sim/run/check.h"

namespace proveout::checks {

// Works out the loads of each sample once, hands it to the checks with for_tool and adds their
// findings. Gives each motion's worst and its energy.
run::MotionLoads follow_tools(const run::SetupContext& context, const run::SetupCut& setup,
                              FindingCollector& findings);

}  // namespace proveout::checks
