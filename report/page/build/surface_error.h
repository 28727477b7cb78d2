// How far a mesh of the stock lies from the level set it was made of, both ways.
#pragma once

#include <cstddef>

#include "report/page/build/surface.h"
#include "sim/stock/stock.h"

namespace proveout::page {

struct SurfaceError {
  double furthest = 0;     // mm, >= 0
  double mean = 0;         // mm, >= 0: over the level set's own points
  std::size_t points = 0;  // of the level set that were held against the mesh
};

// The zero surface of the field (trilinear between voxel centres) crosses a line between two
// neighbouring voxels where linear interpolation says; from every such place the exact distance to
// the nearest triangle is taken. The other way round, the field's value at places at most a voxel
// apart on every triangle is a distance that may only be too small. furthest is the largest of
// both. surface: of this stock, stock coordinates, mm; empty: zeros.
SurfaceError surface_error(const stock::Stock& stock, const Surface& surface);

}  // namespace proveout::page
