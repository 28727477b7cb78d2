// When a cut counts as deep, as a slot, as a plunge: shared by the checks of tools' limits.
#pragma once

#include <cmath>

#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "sim/cutting/material.h"
#include "sim/stock/stock.h"

namespace proveout::checks {

// Engagement the grid cannot tell from a touch: less than this is not judged, mm.
inline constexpr double least_depth = 0.02;
// A steeper way down than this counts as a plunge (common practice: ramps run at 1 to 5 degrees in
// metal).
inline constexpr double steepest_ramp = 10.0 / deg_per_rad;
inline constexpr double thin_share = 0.5;  // of the least chip: below it the edge rubs

// What the grid and rounded coordinates may add to a depth or width, mm.
inline double slack_of(const stock::EngagementSample& s) { return 0.05 + 0.01 * s.axial_depth; }

// A skin on a wall is no deep cut, however tall: depth is judged from a twentieth of the diameter
// on.
inline bool is_skin(const stock::EngagementSample& s, const job::Tool& tool) {
  return s.radial_width < 0.05 * tool.diameter;
}

// Sine of the angle from which on a way down counts as straight down: the underside takes the whole
// chip.
inline constexpr double straight_down = 0.70710678;

// Where the job gives no plunge feed: the material's share of the greatest chip a tooth, mm/min; 0:
// no rule.
inline double plunge_rule(const cutting::Material& material, const job::Tool& tool, double rpm) {
  return material.plunge_share * material.chip_per_mm_diameter.second * tool.diameter *
         tool.flutes * rpm;
}

inline bool is_slot(const stock::EngagementSample& s) { return s.arc > 150 && s.arc < 200; }

}  // namespace proveout::checks
