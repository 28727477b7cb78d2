// A closed star of any radii about a point: rings of corners between two ends, for tests that need
// a mesh of no special shape.
#pragma once

#include <cmath>
#include <functional>

#include "parser/mesh/mesh.h"

namespace proveout::mesh {

// rings: from end to end, 2 or more; around: corners a ring, 3 or more; radius: of the next corner,
// mm, along z from the upper end down.
inline Mesh star_mesh(const Vec3& centre, int rings, int around,
                      const std::function<double()>& radius) {
  Mesh mesh;
  const auto at = [&](int ring, int k) {
    return static_cast<std::uint32_t>(1 + (ring - 1) * around + k % around);
  };
  mesh.vertices.push_back(centre + Vec3(0, 0, radius()));
  for (int ring = 1; ring < rings; ++ring) {
    for (int k = 0; k < around; ++k) {
      const double a = pi * ring / rings, b = 2 * pi * k / around;
      mesh.vertices.push_back(centre + radius() * Vec3(std::sin(a) * std::cos(b),
                                                       std::sin(a) * std::sin(b), std::cos(a)));
    }
  }
  mesh.vertices.push_back(centre - Vec3(0, 0, radius()));
  const auto last = static_cast<std::uint32_t>(mesh.vertices.size() - 1);
  for (int k = 0; k < around; ++k) {
    mesh.triangles.push_back({0, at(1, k), at(1, k + 1)});
    for (int ring = 1; ring + 1 < rings; ++ring) {
      mesh.triangles.push_back({at(ring, k), at(ring + 1, k), at(ring + 1, k + 1)});
      mesh.triangles.push_back({at(ring, k), at(ring + 1, k + 1), at(ring, k + 1)});
    }
    mesh.triangles.push_back({last, at(rings - 1, k + 1), at(rings - 1, k)});
  }
  return mesh;
}

}  // namespace proveout::mesh
