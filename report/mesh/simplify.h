// Large triangles where the stock is flat, small ones where it bends.
#pragma once

#include <span>

#include "parser/base/geometry.h"
#include "report/page/build/surface.h"

namespace proveout::mesh_files {

// Edges are collapsed while the surface moves by less than about tolerance (mm, > 0; by quadric
// error, Garland and Heckbert, "Surface simplification using quadric error metrics", SIGGRAPH 97,
// as the meshoptimizer library does it). Vertices that are left stay where they were and keep their
// motion and deviation. A closed surface stays closed: where collapsing would open it, a smaller
// tolerance is taken, and in the end the surface as it was. Triangles with a corner within about
// reach (mm; up to twice as far) of a place in untouched (mm, stock coordinates) stay as they are.
// The library looks at planes and not at which side of them is material: where two sheets touch it
// can lay a triangle across a gap, so what it made is to be measured (page/build/surface_error.h).
page::Surface simplified(const page::Surface& surface, double tolerance,
                         std::span<const Vec3> untouched = {}, double reach = 0);

// Whether every edge is run through as often one way as the other, by triangles of three corners.
bool closed(const page::Surface& surface);

}  // namespace proveout::mesh_files
