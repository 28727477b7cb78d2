// The piece that is left at the end: its mass, and its surface against the part.
#pragma once

#include <map>
#include <vector>

#include "sim/cutting/material.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/exact_stock.h"

namespace proveout::checks {

struct PartOutcome {
  stock::Stock finished;          // the piece that goes on, supports taken off
  run::PartResult part;           // but for PartResult::target
  std::vector<double> gouge_mm3;  // of the part, by each setup's motions
};

struct PartCheckInput {
  const solid::PartDistance* part = nullptr;  // stock coordinates; nullptr: no part was given
  stock::BlankShape blank;
  const std::map<int, solid::ToolBody>& bodies;  // by tool number
  int threads = 0;                               // 0: all
};

// After the last setup: supports taken off, the part's piece kept, measured and compared. Asked of
// result: the job, the setups with their bridges, and the stock as left.
PartOutcome check_part(const run::JobResult& result, const PartCheckInput& in,
                       const cutting::Material& material, FindingCollector& findings);

}  // namespace proveout::checks
