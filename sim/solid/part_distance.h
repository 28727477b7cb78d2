// Exact signed distance to a closed mesh: nearest triangle by a tree of boxes, sign by the
// angle-weighted normal of the nearest feature (Baerentzen and Aanaes, "Signed distance computation
// using the angle weighted pseudonormal", IEEE TVCG 11 (2005) 243-253).
#pragma once

#include <cstdint>
#include <vector>

#include "parser/mesh/mesh.h"

namespace proveout::solid {

class PartDistance {
 public:
  explicit PartDistance(mesh::Mesh mesh);
  // mm, negative inside. reach: what lies farther than it from the surface, inside too, may be
  // returned as reach; > 0, mm.
  double at(const Vec3& point, double reach = 1e30) const;
  // As at, and quicker where nearly all points asked for lie less than expected (mm, > 0) away.
  double at_mostly_near(const Vec3& point, double expected) const {
    const double near = at(point, expected);
    return near > -expected && near < expected ? near : at(point);
  }
  const mesh::Mesh& mesh() const { return mesh_; }

 private:
  struct Node {
    Eigen::Vector3f low, high;
    std::uint32_t first = 0;  // leaf: into order_; inner node: left child
    std::uint32_t count = 0;  // leaf: triangles; 0: inner node
    std::uint32_t right = 0;  // inner node: right child
  };
  std::uint32_t build(std::uint32_t first, std::uint32_t count);
  void pseudonormals();

  mesh::Mesh mesh_;
  std::vector<Node> nodes_;
  std::vector<std::uint32_t> order_;
  std::vector<Vec3> face_normal_, vertex_normal_;
  std::vector<std::array<Vec3, 3>> edge_normal_;  // of edges k, k+1 of each triangle
};

}  // namespace proveout::solid
