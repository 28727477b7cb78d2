#include "sim/reach/inside_radius.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>
#include <vector>

namespace proveout::reach {
namespace {

const double upright = std::sin(2 / deg_per_rad);
const double flat = 0.2 / deg_per_rad;  // two triangles of one facet

struct Wall {  // an upright triangle beside an edge
  Vec3 outward = Vec3::Zero();
  double width = 0;         // mm, level, from the edge to its far corner
  Vec3 far = Vec3::Zero();  // that corner
};

}  // namespace

std::optional<InsideRadius> smallest_inside_radius(
    const mesh::Mesh& mesh, const std::function<bool(const Vec3&, const Vec3&)>& seen) {
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::vector<Wall>> edges;
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    const Vec3 cross = (b - a).cross(c - a);
    if (!(cross.norm() > 0) || std::abs(cross.z()) > upright * cross.norm()) continue;
    for (std::size_t k = 0; k < 3; ++k) {
      const std::uint32_t p = t[k], q = t[(k + 1) % 3];
      const Vec3 along = mesh.vertices[q] - mesh.vertices[p];
      if (along.head<2>().norm() > upright * along.norm()) continue;
      const Vec3& far = mesh.vertices[t[(k + 2) % 3]];
      const double width = (far - mesh.vertices[p]).head<2>().norm();
      edges[std::minmax(p, q)].push_back({cross.normalized(), width, far});
    }
  }
  std::optional<InsideRadius> least;
  for (const auto& [ends, walls] : edges) {
    if (walls.size() != 2) continue;
    const Vec3 &p = mesh.vertices[ends.first], &q = mesh.vertices[ends.second];
    const Vec3 middle = (p + q) / 2, open = walls[0].outward + walls[1].outward;
    // Inside: each facet lies on the open side of the other.
    if (walls[0].outward.dot(walls[1].far - middle) <= 0) continue;
    const double turn = std::acos(std::clamp(walls[0].outward.dot(walls[1].outward), -1.0, 1.0));
    if (turn < flat || !(open.norm() > 0)) continue;
    const double width = std::min(walls[0].width, walls[1].width);
    const double radius = turn >= sharp_turn ? 0 : width / 2 / std::tan(turn / 2);
    if (least && radius >= least->radius) continue;
    if (!seen(middle, open.normalized())) continue;
    least = InsideRadius{radius, middle};
  }
  return least;
}

}  // namespace proveout::reach
