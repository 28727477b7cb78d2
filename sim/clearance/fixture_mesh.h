// How deep an upright cylinder goes into a closed mesh.
#pragma once

#include <cstdint>
#include <vector>

#include "parser/mesh/mesh.h"
#include "sim/solid/part_distance.h"

namespace proveout::clearance {

class FixtureMesh {
 public:
  explicit FixtureMesh(mesh::Mesh mesh);  // mm, setup frame

  // The least way out of an upright cylinder on the axis (x, y) between the heights low and high
  // (mm): sideways, seen from its axis, or upwards; 0: it does not touch. For a box as a mesh this
  // is min(radius - distance of the axis from the box, top of the box - low).
  double depth(double x, double y, double radius, double low, double high) const;

  const mesh::Mesh& mesh() const { return solid_.mesh(); }
  const Box3& box() const { return box_; }

 private:
  template <class Each>
  void for_triangles(double x, double y, double radius, Each each) const;
  int column(double x) const;
  int row(double y) const;

  solid::PartDistance solid_;
  Box3 box_;
  double cell_x_ = 1, cell_y_ = 1;
  std::vector<std::vector<std::uint32_t>> bins_;  // triangles over each cell of the plane
};

}  // namespace proveout::clearance
