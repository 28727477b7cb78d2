// moves.csv: one row a motion.
#pragma once

#include <ostream>

#include "sim/run/result.h"

namespace proveout::files {

// Columns: setup,tool,file,line,kind,length,feed,time_s,removed_mm3,axial_depth,radial_width,
// engagement_deg,chip_mm,force_n,power_w,bend_mm,sense. Lengths mm, feed mm/min as commanded (0 on
// rapids). sense: climb, conventional, both, or empty.
void write_moves_csv(const run::JobResult& result, std::ostream& stream);

}  // namespace proveout::files
