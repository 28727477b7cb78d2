// A surface from a signed field on a lattice, one vertex a cell, after Gibson, "Constrained elastic
// surface nets", MICCAI 1998: the vertex of a cell the surface goes through is the mean of the
// places where its edges are crossed, and four cells about a crossed edge share a quad.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "parser/base/geometry.h"
#include "report/page/build/surface.h"

namespace proveout::page {

struct Lattice {
  Vec3 origin = Vec3::Zero();  // mm: place of point 0,0,0
  double step = 1;             // mm
  std::array<int, 3> count{};  // points along x, y, z
  std::vector<float> values;   // negative inside; x runs fastest
  std::size_t index(int i, int j, int k) const {
    return (static_cast<std::size_t>(k) * count[1] + j) * count[0] + i;
  }
  Vec3 place(int i, int j, int k) const { return origin + step * Vec3(i, j, k); }
};

// A lattice over the box, one step wider on each side so that the surface closes; values still to
// be set.
Lattice lattice_over(const Box3& box, double step);

// Closed wherever the outermost points are outside. made_by and deviation are left empty.
Surface surface_nets(const Lattice& lattice);

}  // namespace proveout::page
