// The stock's surface against the part: where material is missing (gouge) and where it is left
// (excess).
#pragma once

#include <vector>

#include "sim/solid/part_distance.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct DeviationSpot {     // one motion's worst place within a cell of a few mm
  Vec3 at = Vec3::Zero();  // mm, stock coordinates
  double deviation = 0;    // mm, negative: missing
  double volume_mm3 = 0;   // of the spot: deviation times area
  stock::MotionId by = 0;  // the motion that made this surface; 0: the blank's own
};

struct Deviation {
  double gouge_mm3 = 0, worst_gouge = 0;  // mm3, mm (positive)
  double excess_mm3 = 0, worst_excess = 0;
  std::vector<DeviationSpot> gouges, excesses;  // worst first
};

// Surface points are taken beside single faces only: at an edge the sampled surface is rounded and
// would accuse innocent cuts. gouge_tolerance, excess_tolerance: mm; what lies within them is no
// spot, but counts as nothing in the volumes either. left_out: boxes (stock coordinates) in which
// nothing is judged.
Deviation deviation(const stock::Stock& stock, const solid::PartDistance& part,
                    double gouge_tolerance, double excess_tolerance,
                    const std::vector<Box3>& left_out, double cell_mm = 4.0);

}  // namespace proveout::measure
