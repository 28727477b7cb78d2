// Whether the part is there at all, asked of the part's own inside by the grid alone: a way of its
// own to hold the comparison (two_way.h) against.
#pragma once

#include <vector>

#include "sim/solid/part_distance.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct MissingPart {
  double spacing = 0;      // mm, of the points asked
  double volume_mm3 = 0;   // of the part without stock, deeper than tolerance below its surface
  double depth = 0;        // mm: how far below the part's surface the deepest such place lies
  Vec3 at = Vec3::Zero();  // mm, stock coordinates: that place
  std::size_t deep = 0;    // points deeper than two voxels
};

// Points of a cubic lattice over the part's box, some 200,000 and no nearer together than a voxel.
// Right to a few points' worth (spacing^3 each); a wall thinner than the spacing may be passed
// over, and depth falls short by up to a spacing. tolerance: mm, 0 or more. left_out: boxes (stock
// coordinates) in which nothing is asked.
MissingPart missing_part(const stock::Stock& stock, const solid::PartDistance& part,
                         double tolerance, const std::vector<Box3>& left_out);

}  // namespace proveout::measure
