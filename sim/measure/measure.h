// What is measured on a stock: volume, extents, mass, pieces. Lengths mm, stock coordinates unless
// said. How and how well: docs/measuring.md.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "parser/base/geometry.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// Volume, mm3: sum of smeared occupancies (sim/stock/occupancy.h).
double volume(const stock::Stock& stock);

struct MassProperties {
  double volume = 0;           // mm3
  Vec3 centre = Vec3::Zero();  // mm
  Eigen::Matrix3d inertia =
      Eigen::Matrix3d::Zero();  // mm5 (density 1), about the centre, stock axes
};
MassProperties mass_properties(const stock::Stock& stock);

// The box of the material along turned axes (machine_from_stock), to a fraction of a voxel; band:
// only x and y of the material between these heights (mm) above the lowest only; z of all of it.
// Empty box: no material.
Box3 extent(const stock::Stock& stock, const Eigen::Matrix3d& machine_from_stock,
            const std::optional<std::pair<double, double>>& band = std::nullopt);

// The connected pieces, largest first.
struct Piece {
  double volume = 0;  // mm3
  double shared = 0;  // mm3 inside the part, where one was given
  Vec3 centre = Vec3::Zero();
  Vec3 inside = Vec3::Zero();  // a place deep in it
  Box3 box;                    // mm, stock coordinates: of its voxels, so up to one too large
};
// Splits the stock into its pieces and keeps one of them in place: the one that shares most volume
// with the part, or the largest. Returns all, the kept one first; one of no volume where nothing
// is left.
std::vector<Piece> keep_one_piece(stock::Stock& stock, const solid::PartDistance* part);
// Whether two places in material belong to one piece; false where one of them is in the air.
bool hang_together(const stock::Stock& stock, const Vec3& a, const Vec3& b);
// How many pieces there are, without changing anything.
std::vector<Piece> pieces(const stock::Stock& stock);

// Takes boxes away, as a saw or file would: supports taken off by hand.
void remove_boxes(stock::Stock& stock, std::span<const Box3> boxes);

}  // namespace proveout::measure
