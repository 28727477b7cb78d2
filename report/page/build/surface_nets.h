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
  std::array<int, 3> at(std::size_t index) const {  // the point with that index
    const auto nx = static_cast<std::size_t>(count[0]), ny = static_cast<std::size_t>(count[1]);
    return {static_cast<int>(index % nx), static_cast<int>(index / nx % ny),
            static_cast<int>(index / nx / ny)};
  }
};

// A lattice over the box, one step wider on each side so that the surface closes; values still to
// be set.
Lattice lattice_over(const Box3& box, double step);

struct SurfaceNet {
  Surface surface;                 // made_by and deviation are left empty
  std::vector<std::size_t> cells;  // of each vertex: Lattice::index of its cell's first corner
};

// The twelve edges of a cell as pairs of its corners, numbered by bits x, y, z.
extern const std::array<std::array<int, 2>, 12> cell_edges;

// Closed wherever the outermost points are outside. Vertices come in the order of their cells.
SurfaceNet surface_nets(const Lattice& lattice);

}  // namespace proveout::page
