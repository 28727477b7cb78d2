// Large triangles where the stock is flat, small ones where it bends.
#pragma once

#include "report/page/build/surface.h"

namespace proveout::mesh_files {

// Edges are collapsed while the surface moves by less than about tolerance (mm, > 0; by quadric
// error, Garland and Heckbert, "Surface simplification using quadric error metrics", SIGGRAPH 97,
// as the meshoptimizer library does it). Vertices that are left stay where they were and keep their
// motion and deviation. A closed surface stays closed: where collapsing would open it, a smaller
// tolerance is taken, and in the end the surface as it was.
page::Surface simplified(const page::Surface& surface, double tolerance);

// Whether every edge is run through as often one way as the other, by triangles of three corners.
bool closed(const page::Surface& surface);

}  // namespace proveout::mesh_files
