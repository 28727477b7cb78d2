// Exact signed distance to a closed mesh that it keeps: FaceTree with its mesh.
#pragma once

#include <memory>
#include <utility>

#include "sim/solid/face_tree.h"

namespace proveout::solid {

class PartDistance {
 public:
  // mesh: closed, mm.
  explicit PartDistance(mesh::Mesh mesh)
      : mesh_(std::make_unique<const mesh::Mesh>(std::move(mesh))), faces_(*mesh_) {}
  // mm, negative inside. reach: what lies farther than it from the surface, inside too, may be
  // returned as reach; > 0, mm.
  double at(const Vec3& point, double reach = 1e30) const { return faces_.at(point, reach); }
  // As at, and quicker where nearly all points asked for lie less than expected (mm, > 0) away.
  double at_mostly_near(const Vec3& point, double expected) const {
    const double near = at(point, expected);
    return near > -expected && near < expected ? near : at(point);
  }
  const mesh::Mesh& mesh() const { return *mesh_; }
  const FaceTree& faces() const { return faces_; }

 private:
  std::unique_ptr<const mesh::Mesh> mesh_;  // where it lies does not change
  FaceTree faces_;
};

}  // namespace proveout::solid
