// What of the part no setup reaches, and tools that stand out further than their diameter bears.
#pragma once

#include "sim/run/finding.h"
#include "parser/mesh/mesh.h"
#include "sim/run/result.h"

namespace proveout::checks {

// Stick-out over diameter: above the first a note (caution), above the second a warning (a tool
// made for it). Common practice, no source.
inline constexpr double stickout_caution = 4, stickout_special = 8;

// unreached: surface that lies open to no setup, or where no tool of the list fits, where that is
// more than a thousandth of the part's and 1 mm2. Told by sim/reach, from the part alone, with
// height maps of at most about 100,000 points over the part, fewer where a wide tool would take
// minutes. part: as the job's mesh, stock coordinates.
void judge_unreached(const run::JobResult& result, const mesh::Mesh& part, FindingCollector& findings);

// over-reach: from each milling tool's stick-out, as needed by the programs (SetupResult::tools).
void judge_over_reach(const run::JobResult& result, FindingCollector& findings);

}  // namespace proveout::checks
