// A closed box as a mesh, for the tests of this room.
#pragma once

#include "parser/mesh/mesh.h"

namespace proveout::measure {

inline mesh::Mesh box_mesh(const Vec3& low, const Vec3& high) {
  mesh::Mesh m;
  for (int c = 0; c < 8; ++c) {
    m.vertices.emplace_back(c & 1 ? high.x() : low.x(), c & 2 ? high.y() : low.y(),
                            c & 4 ? high.z() : low.z());
  }
  const std::array<std::array<std::uint32_t, 4>, 6> faces = {
      {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}};
  for (const auto& f : faces) {
    m.triangles.push_back({f[0], f[1], f[2]});
    m.triangles.push_back({f[0], f[2], f[3]});
  }
  return m;
}

}  // namespace proveout::measure
