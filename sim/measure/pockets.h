// Pockets of the finished piece: what would hold a liquid, seen along a setup's tool axis.
#pragma once

#include <vector>

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// Round plug that goes into a pocket and stands no higher than its rim.
struct Plug {
  double diameter = 0;  // mm, widest for its height
  double height = 0;    // mm
};
struct Pocket {
  Vec3 at = Vec3::Zero();   // mm, setup frame: its deepest place
  double volume_mm3 = 0;    // up to the rim's lowest place
  double depth = 0;         // mm, from there to the deepest place
  double area_mm2 = 0;      // at the rim
  std::vector<Plug> plugs;  // at tenths of the depth, shallow to deep
};

// Largest first; those under least_mm3 are left out. cell: mm, of the grid of heights: volumes and
// diameters are told to about it. Filled by priority flood (Barnes, Lehman and Mulla,
// "Priority-flood", Computers & Geosciences 62 (2014) 117-127): what runs out over the rim, or
// through a hole, is no pocket. Undercuts are not seen.
std::vector<Pocket> pockets(const stock::Stock& stock, const RigidMotion& stock_from_setup,
                            double cell, double least_mm3);

}  // namespace proveout::measure
