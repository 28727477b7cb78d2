// Where a piece has room for round bores with walls left all about them.
#pragma once

#include <cstddef>
#include <vector>

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct Bore {
  Vec3 at = Vec3::Zero();  // mm, setup frame: the middle of its mouth
  double diameter = 0;     // mm, of a usual rod
  double depth = 0;        // mm
  double volume_mm3() const { return pi / 4 * diameter * diameter * depth; }
};

// Bores from above along the setup's z, one after the other the one that holds most, at most so
// many: all about each, below it and between two stands material of wall mm or more. Told on a grid
// of cells of cell mm, on the near side: less room than there is, never more. Diameters: 4, 5, 6,
// 8, 10, 12, 16, 20, 25 and 32 mm.
std::vector<Bore> bores(const stock::Stock& stock, const RigidMotion& stock_from_setup, double cell,
                        double wall, std::size_t most);

}  // namespace proveout::measure
