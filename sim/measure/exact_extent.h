// Where the material ends along turned axes, by the motions' own distances: what an edge finder
// touches on a piece that lies at any angle. The grid says which material is still there.
#pragma once

#include <optional>
#include <utility>

#include "parser/base/geometry.h"
#include "sim/stock/exact_stock.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct ExactExtent {
  Box3 box;           // mm, along the turned axes; empty: no material
  double open = 0;    // mm: material may reach beyond a face of the box by so much, no further
  double beyond = 0;  // mm: voxels whose middle the grid holds for material lie so far beyond it
};

// As extent(), with the same band (mm above the lowest material; a band that holds no material
// counts as none). kept: the stock after the motions of exact, less what fell off; exact: its
// region must hold all of kept.
//
// Branch and bound over cells of the grid, halved. In a cell with middle c material lies behind the
// plane of every motion that is plain there, -d_m <= 0, so for any weights w_m >= 0 (weak duality
// of linear programmes)
//     u.x <= u.c + sum of w_m (d_m(c) + bend) + half |u + sum of w_m grad d_m|_1
// which at faces, edges and corners of plane cuts is their own place. Cells with no plain motion
// are left to f being 1-Lipschitz (exact_stock.h).
ExactExtent exact_extent(const stock::Stock& kept, const stock::ExactStock& exact,
                         const Eigen::Matrix3d& machine_from_stock,
                         const std::optional<std::pair<double, double>>& band = std::nullopt);

}  // namespace proveout::measure
