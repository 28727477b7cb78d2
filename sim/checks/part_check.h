// The piece that is left at the end: its mass, and its surface against the part.
#pragma once

#include <vector>

#include "sim/cutting/material.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/solid/part_distance.h"

namespace proveout::checks {

struct PartOutcome {
  stock::Stock finished;          // the piece that goes on, supports taken off
  run::PartResult part;           // but for PartResult::target
  std::vector<double> gouge_mm3;  // of the part, by each setup's motions
};

// After the last setup: supports taken off, the part's piece kept, measured and compared. Asked of
// result: the job, the setups with their bridges, and the stock as left. part may be null.
PartOutcome check_part(const run::JobResult& result, const solid::PartDistance* part,
                       const cutting::Material& material, FindingCollector& findings);

}  // namespace proveout::checks
