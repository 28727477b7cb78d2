// How far two stocks' surfaces lie apart.
#pragma once

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct StockDifference {
  double worst_mm = 0;  // largest distance between the surfaces, to about a tenth of a voxel
  double mean_mm = 0;   // over the surface
  Vec3 worst_at = Vec3::Zero();  // stock coordinates, mm
  double only_first_mm3 = 0;     // material the first has and the second has not
  double only_second_mm3 = 0;
  double reach_mm = 0;  // a distance beyond this is given as this: the fields' band ends there
  bool beyond_reach = false;
};

// Both in stock coordinates, mm; the voxels may differ, the coarser one says how fine the answer
// is. Distances are differences of the two fields at the voxels beside either surface.
StockDifference stock_difference(const stock::Stock& first, const stock::Stock& second);

}  // namespace proveout::measure
