// The part seen along a tool axis: the highest surface over each point of a grid.
#pragma once

#include <vector>

#include "parser/base/geometry.h"
#include "parser/mesh/mesh.h"

namespace proveout::reach {

// Heights over grid points (not cells): point i, j lies at x0 + i * step, y0 + j * step. mm, in the
// frame of the mesh given.
struct Heights {
  double step = 1;
  double x0 = 0, y0 = 0;
  int columns = 0, rows = 0;
  double floor = 0;  // lowest point of the part: what stands where the part is not
  std::vector<double> height;

  double at(int i, int j) const {  // floor beyond the grid
    if (i < 0 || j < 0 || i >= columns || j >= rows) return floor;
    return height[index(i, j)];
  }
  std::size_t index(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(columns) +
           static_cast<std::size_t>(i);
  }
  int column(double x) const;  // of the nearest grid point; may lie beyond the grid
  int row(double y) const;
};

// Exact at the grid points: each triangle is evaluated over the points it covers. margin: mm of
// empty grid kept on every side. step > 0, mm.
Heights part_heights(const mesh::Mesh& mesh, double step, double margin);

// At every point the highest of the map within radius (mm) of it, edge included.
std::vector<double> highest_within(const Heights& map, double radius);

}  // namespace proveout::reach
