// Clearances of a setup, and what they say of ways that the dry run itself does not go: the first
// move after a start or tool change, and rapids run by each axis at its own speed.
#pragma once

#include <map>
#include <vector>

#include "sim/clearance/clearance.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/run/setup_context.h"

namespace proveout::checks {

// stock: as the setup finds it.
clearance::ClearanceTracker clearance_tracker(const run::SetupContext& context,
                                              const stock::Stock& stock);

struct ClearanceFindings {
  std::map<int, clearance::ToolClearance> by_tool;
  double within_mm = 0;           // resolution of the clearances
  std::vector<Finding> findings;  // in order of the motions
};

// Follows the program with the tracker. Findings of kind rapid-contact:
//   detail first-move: the first move after a start or tool change begins at a place nobody knows.
//     Where it goes sideways, it is held against everything higher than the height it runs or ends
//     at; where it is a rapid, the tool is lowered onto its end from above.
//   detail by-axis: a rapid that clears on its straight way and not on its bent one, on which each
//     axis makes its own ramp from rest to rest. An error where the machine is said to run so.
// What goes in by less than two cells of the columns is not told from a touch.
ClearanceFindings follow_clearance(const run::SetupContext& context,
                                   clearance::ClearanceTracker& tracker,
                                   const run::SetupCut& setup);

// The bent way of a rapid: places of the tip (mm, setup frame) from start to end, at most `step`
// (mm) apart; each axis ramps by the machine's acceleration, speeds are its rapid rates.
std::vector<Vec3> bent_way(const nc::Motion& motion, const job::Machine& machine, double step);

}  // namespace proveout::checks
