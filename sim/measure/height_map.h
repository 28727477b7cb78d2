// The stock seen from above: the highest material over each cell of a grid, in a setup's frame.
#pragma once

#include <vector>

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct HeightMap {
  double cell = 1;        // mm
  double x0 = 0, y0 = 0;  // mm, setup frame: lower left corner of cell 0,0
  int columns = 0, rows = 0;
  std::vector<float> height;  // mm, setup frame; -1e9 where there is nothing
  float at(int i, int j) const {
    return height[static_cast<std::size_t>(j) * static_cast<std::size_t>(columns) +
                  static_cast<std::size_t>(i)];
  }
  float& at(int i, int j) {
    return height[static_cast<std::size_t>(j) * static_cast<std::size_t>(columns) +
                  static_cast<std::size_t>(i)];
  }
};

HeightMap height_map(const stock::Stock& stock, const RigidMotion& setup_from_stock, double cell);

// As height_map, but never lower than the material: within a voxel beside the surface its highest
// and its outermost points count together, so edges are not rounded off. cell: mm; no less than a
// voxel. Where the setup is turned by right angles the cells lie on the voxels or on blocks of
// them.
HeightMap column_tops(const stock::Stock& stock, const RigidMotion& setup_from_stock, double cell);

}  // namespace proveout::measure
