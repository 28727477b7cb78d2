// Reading the stock's distances, mm. Needs OpenVDB.
#pragma once

#include <cmath>

#include "sim/stock/fields.h"

namespace proveout::stock {

// The distance (mm, negative inside) at voxels. Remembers where it was: one per thread.
class DistanceReader {
 public:
  explicit DistanceReader(const Stock::Fields& fields)
      : steps_(fields.steps->tree()), mm_a_step_(fields.mm_a_step()) {}
  float at(const openvdb::Coord& voxel) const {
    return mm_a_step_ * static_cast<float>(steps_.getValue(voxel));
  }
  bool inside(const openvdb::Coord& voxel) const { return steps_.getValue(voxel) < 0; }
  // nullptr: one value holds for the whole block of 8^3 about the voxel.
  const DistanceLeaf* leaf(const openvdb::Coord& voxel) const {
    return steps_.probeConstLeaf(voxel);
  }
  // Of the value in the tree: 3 where the voxel has its own, less in blocks of one value.
  int depth(const openvdb::Coord& voxel) const { return steps_.getValueDepth(voxel); }
  float mm(std::int16_t steps) const { return mm_a_step_ * static_cast<float>(steps); }

 private:
  openvdb::tree::ValueAccessor<const DistanceTree, false> steps_;
  float mm_a_step_;
};

// The distance field between its voxels, trilinear. One per thread.
class FieldSampler {
 public:
  explicit FieldSampler(const Stock::Fields& fields) : fields_(fields), value_(fields) {}
  double operator()(const Vec3& at) const {  // at: mm, stock coordinates
    const Vec3 index = fields_.index(at);
    const openvdb::Coord low(static_cast<int>(std::floor(index.x())),
                             static_cast<int>(std::floor(index.y())),
                             static_cast<int>(std::floor(index.z())));
    const Vec3 f = index - Vec3(low.x(), low.y(), low.z());
    double sum = 0;
    for (int c = 0; c < 8; ++c) {
      const int dx = c & 1, dy = c >> 1 & 1, dz = c >> 2;
      sum += (dx ? f.x() : 1 - f.x()) * (dy ? f.y() : 1 - f.y()) * (dz ? f.z() : 1 - f.z()) *
             static_cast<double>(value_.at(low.offsetBy(dx, dy, dz)));
    }
    return sum;
  }
  double voxel() const { return fields_.voxel; }

 private:
  const Stock::Fields& fields_;
  DistanceReader value_;
};

}  // namespace proveout::stock
