// What single motions have to answer for: rapids in material, shank and holder, a spindle that
// stands still, a tip below the stock; and each motion's peak loads.
#pragma once

#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/run/setup_context.h"

namespace proveout::checks {

// voxel: mm. Fills result.peaks and adds the findings of every motion.
void judge_motions(const run::SetupContext& context, run::SetupResult& result, double voxel,
                   FindingCollector& findings);

}  // namespace proveout::checks
