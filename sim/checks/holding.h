// What holds the part while it is cut: the bridges between it and the rest, their strength, and the
// peak force they meet.
#pragma once

#include <string>
#include <vector>

#include "sim/cutting/material.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/solid/part_distance.h"

namespace proveout::checks {

// Strength of all bridges together over the peak force below which a warning is given, and 1 below
// which an error is: common practice, no source.
inline constexpr double holding_wanted = 5;

// The bridges of the stock as this setup leaves it, without their forces. part: as the job's mesh.
std::vector<run::BridgeResult> bridges_after(const run::SetupCut& setup, const job::Job& job,
                                             const stock::Stock& stock,
                                             const solid::PartDistance& part);

struct HeldAfter {  // what holds the part after one setup
  std::vector<run::BridgeResult> bridges;
  run::Holding holding;
};
struct HoldingOutcome {
  std::vector<HeldAfter> setups;  // one a setup
  std::string assumed;            // the shear strength and its source; empty: not asked for
};

// Strength in shear (section times the material's shear strength) against the peak cutting force
// met while they hold: in their own setup from the motion on that shaped the last of them, and all
// through the next. A weak-bridge finding where the bridges of a setup together bear less than
// holding_wanted times that. Asked of result: each setup's bridges, as bridges_after gave them, and
// its motions' peaks.
HoldingOutcome judge_holding(const run::JobResult& result, const cutting::Material& material,
                             FindingCollector& findings);

}  // namespace proveout::checks
