// How far a mesh of the stock lies from the stock's surface, both ways.
#pragma once

#include <cstddef>
#include <limits>
#include <vector>

#include "parser/base/geometry.h"
#include "report/page/build/surface.h"
#include "sim/stock/exact_stock.h"
#include "sim/stock/stock.h"

namespace proveout::page {

struct SurfaceError {
  double furthest = 0;              // mm, >= 0
  Vec3 furthest_at = Vec3::Zero();  // mm, stock coordinates: where
  double mean = 0;                  // mm, >= 0: over the level set's own points
  std::size_t points = 0;           // of the level set that were held against the mesh
  std::vector<Vec3> off;            // mm, stock coordinates: places further off than asked about
};

// The zero surface of the field (trilinear between voxel centres) crosses a line between two
// neighbouring voxels where linear interpolation says; from every such place the exact distance to
// the nearest triangle is taken. So it is from places where the values on both sides of a line fall
// towards a sheet or a groove too thin for any voxel's middle to lie in it: the grid cannot hold
// it, and the mesh has it not. The other way round, from places at most a voxel apart on every
// triangle: the way down the field's slope onto its zero, or to the nearest crossing where that
// leads nowhere, as it does beyond the band of voxels that know their distance. Each way is to a
// place of the surface, so never too short; beside corners it may be longer than the nearest by a
// fraction of a voxel. furthest is the largest of all.
// exact: the motions the stock was cut by. Beside edges, where the grid's slope is not that of one
// face, both kinds of places are then held against the motions' own surface and not against the
// field, which rounds edges. nullptr: the field everywhere.
// surface: of this stock, stock coordinates, mm; empty: zeros. off_by: mm; places further off, and
// the corners of triangles with such a place, are listed.
SurfaceError surface_error(const stock::Stock& stock, const Surface& surface,
                           double off_by = std::numeric_limits<double>::infinity(),
                           const stock::ExactStock* exact = nullptr);

}  // namespace proveout::page
