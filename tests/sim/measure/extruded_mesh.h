// A closed prism as a mesh, for the tests of this room: a polygon in y and z drawn along x.
#pragma once

#include <utility>
#include <vector>

#include "parser/mesh/mesh.h"

namespace proveout::measure {

// outline: corners (y, z), counter-clockwise seen from +x, not crossing itself. Caps by cutting off
// ears (Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975) 648-651).
inline mesh::Mesh extruded(const std::vector<Eigen::Vector2d>& outline, double from, double to) {
  mesh::Mesh m;
  const auto n = static_cast<std::uint32_t>(outline.size());
  for (const double x : {from, to}) {
    for (const auto& p : outline) m.vertices.emplace_back(x, p.x(), p.y());
  }
  for (std::uint32_t i = 0; i < n; ++i) {
    const std::uint32_t j = (i + 1) % n;
    m.triangles.push_back({i, j, n + j});
    m.triangles.push_back({i, n + j, n + i});
  }
  std::vector<std::uint32_t> left(n);
  for (std::uint32_t i = 0; i < n; ++i) left[i] = i;
  const auto turn = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c) {
    const Eigen::Vector2d u = outline[b] - outline[a], v = outline[c] - outline[a];
    return u.x() * v.y() - u.y() * v.x();
  };
  while (left.size() > 2) {
    for (std::size_t k = 0; k < left.size(); ++k) {
      const std::uint32_t a = left[(k + left.size() - 1) % left.size()], b = left[k],
                          c = left[(k + 1) % left.size()];
      if (turn(a, b, c) <= 0) continue;
      bool ear = true;
      for (const std::uint32_t p : left) {
        if (p == a || p == b || p == c) continue;
        ear = ear && !(turn(a, b, p) >= 0 && turn(b, c, p) >= 0 && turn(c, a, p) >= 0);
      }
      if (!ear) continue;
      m.triangles.push_back({n + a, n + b, n + c});
      m.triangles.push_back({c, b, a});
      left.erase(left.begin() + static_cast<long>(k));
      break;
    }
  }
  return m;
}

}  // namespace proveout::measure
