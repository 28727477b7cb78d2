// Moments of material, in voxels. For the .cpp files of this room.
#pragma once

#include <openvdb/openvdb.h>

#include "sim/stock/fields.h"

namespace proveout::measure {

// Zeroth, first and second moments of the material in voxel units about the index origin.
struct Moments {
  double zero = 0;
  Vec3 one = Vec3::Zero();
  Eigen::Matrix3d two = Eigen::Matrix3d::Zero();
  void add(const Moments& o) {
    zero += o.zero;
    one += o.one;
    two += o.two;
  }
  // A voxel, share of it material.
  void add(const openvdb::Coord& at, double share) {
    const Vec3 p(at.x(), at.y(), at.z());
    zero += share;
    one += share * p;
    two += share * p * p.transpose();
  }
};

// A box of full voxels: sums of i and i^2 in closed form.
inline Moments box_moments(const openvdb::CoordBBox& box) {
  Moments m;
  double sum1[3], sum2[3], count[3];
  for (int k = 0; k < 3; ++k) {
    const double a = box.min()[k], b = box.max()[k];
    count[k] = b - a + 1;
    sum1[k] = (a + b) / 2 * count[k];
    sum2[k] = (b * (b + 1) * (2 * b + 1) - (a - 1) * a * (2 * a - 1)) / 6;
  }
  m.zero = count[0] * count[1] * count[2];
  for (int k = 0; k < 3; ++k) {
    const int p = (k + 1) % 3, q = (k + 2) % 3;
    m.one[k] = sum1[k] * count[p] * count[q];
    m.two(k, k) = sum2[k] * count[p] * count[q];
    m.two(p, q) = m.two(q, p) = sum1[p] * sum1[q] * count[k];
  }
  return m;
}

}  // namespace proveout::measure
