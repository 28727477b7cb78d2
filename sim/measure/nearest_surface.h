// The nearest place of the stock's surface from anywhere. Needs OpenVDB; for the .cpp files of this
// room.
#pragma once

#include <vector>

#include "sim/stock/fields.h"

namespace proveout::measure {

// A tree of the grid's surface points with their normals: the way to the nearest is that to the
// plane through it where that plane is met within a voxel of the point, else to the point.
// Right to about a twentieth of a voxel beside plain faces. Beside edges points may lie nearly a
// voxel apart, so it is for ways of some voxels: at 2.4 voxels a sixth of one too long at most.
class NearestSurface {
 public:
  explicit NearestSurface(const stock::Stock::Fields& fields);
  struct Found {
    double way = 1e30;  // mm
    Vec3 on = Vec3::Zero();
    stock::MotionId by = stock::from_blank;
  };
  // at: mm, stock coordinates; not within the material.
  Found from(const Vec3& at) const;
  bool empty() const { return points_.empty(); }

 private:
  struct Point {
    Eigen::Vector3f at, outward;
    stock::MotionId by;
  };
  void build(std::size_t first, std::size_t last, int axis);
  std::vector<Point> points_;
  double voxel_;
};

}  // namespace proveout::measure
