#include "report/page/build/surface_nets.h"

#include <cmath>

namespace proveout::page {

const std::array<std::array<int, 2>, 12> cell_edges{{{0, 1},
                                                     {2, 3},
                                                     {4, 5},
                                                     {6, 7},
                                                     {0, 2},
                                                     {1, 3},
                                                     {4, 6},
                                                     {5, 7},
                                                     {0, 4},
                                                     {1, 5},
                                                     {2, 6},
                                                     {3, 7}}};

namespace {

bool inside(float value) { return value < 0; }

// The cell's vertex in steps from the cell's first corner; false: the surface does not go through
// it.
bool cell_vertex(const std::array<float, 8>& corner, Vec3& at) {
  int crossings = 0;
  at.setZero();
  for (const auto& [a, b] : cell_edges) {
    if (inside(corner[a]) == inside(corner[b])) continue;
    const double share = corner[a] / (static_cast<double>(corner[a]) - corner[b]);
    const Vec3 from(a & 1, a >> 1 & 1, a >> 2), to(b & 1, b >> 1 & 1, b >> 2);
    at += from + share * (to - from);
    ++crossings;
  }
  if (crossings == 0) return false;
  at /= crossings;
  return true;
}

}  // namespace

Lattice lattice_over(const Box3& box, double step) {
  Lattice lattice;
  lattice.step = step;
  for (int a = 0; a < 3; ++a) {
    // A box of whole steps is one, whatever its division leaves over: the points of a lattice as
    // fine as the voxels are then their middles.
    lattice.count[a] = static_cast<int>(std::ceil(box.sizes()[a] / step - 1e-6)) + 4;
    const double spare = (lattice.count[a] - 1) * step - box.sizes()[a];
    lattice.origin[a] = box.min()[a] - spare / 2;
  }
  lattice.values.resize(static_cast<std::size_t>(lattice.count[0]) * lattice.count[1] *
                        lattice.count[2]);
  return lattice;
}

SurfaceNet surface_nets(const Lattice& lattice) {
  const auto [nx, ny, nz] = lattice.count;
  constexpr std::uint32_t none = UINT32_MAX;
  std::vector<std::uint32_t> vertex_of(lattice.values.size(), none);  // by a cell's first corner
  SurfaceNet net;
  Surface& surface = net.surface;
  for (int k = 0; k + 1 < nz; ++k)
    for (int j = 0; j + 1 < ny; ++j)
      for (int i = 0; i + 1 < nx; ++i) {
        std::array<float, 8> corner;
        for (int c = 0; c < 8; ++c)
          corner[c] = lattice.values[lattice.index(i + (c & 1), j + (c >> 1 & 1), k + (c >> 2))];
        Vec3 at;
        if (!cell_vertex(corner, at)) continue;
        vertex_of[lattice.index(i, j, k)] = static_cast<std::uint32_t>(surface.vertices.size() / 3);
        net.cells.push_back(lattice.index(i, j, k));
        const Vec3 place = lattice.place(i, j, k) + lattice.step * at;
        for (int a = 0; a < 3; ++a) surface.vertices.push_back(static_cast<float>(place[a]));
      }

  // A crossed edge along an axis has four cells about it; quads are turned outwards.
  for (int k = 1; k + 1 < nz; ++k)
    for (int j = 1; j + 1 < ny; ++j)
      for (int i = 1; i + 1 < nx; ++i) {
        const bool here = inside(lattice.values[lattice.index(i, j, k)]);
        for (int axis = 0; axis < 3; ++axis) {
          std::array<int, 3> p{i, j, k};
          ++p[axis];
          if (inside(lattice.values[lattice.index(p[0], p[1], p[2])]) == here) continue;
          const int u = (axis + 1) % 3, v = (axis + 2) % 3;
          std::array<std::uint32_t, 4> quad;
          for (int c = 0; c < 4; ++c) {
            std::array<int, 3> cell{i, j, k};
            if (c == 0 || c == 3) --cell[u];
            if (c < 2) --cell[v];
            quad[c] = vertex_of[lattice.index(cell[0], cell[1], cell[2])];
          }
          if (!here) std::swap(quad[1], quad[3]);
          for (const int c : {0, 1, 2, 0, 2, 3}) surface.triangles.push_back(quad[c]);
        }
      }
  return net;
}

}  // namespace proveout::page
