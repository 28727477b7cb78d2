// The stock's OpenVDB grids, for the rooms that measure, mesh or draw it. Include this only where
// the grids are touched: OpenVDB's headers are slow to compile.
#pragma once

#include <openvdb/openvdb.h>

#include "sim/stock/stock.h"

namespace proveout::stock {

struct Stock::Fields {
  openvdb::FloatGrid::Ptr distance;    // mm, negative inside; level set, half width band_voxels
  openvdb::Int32Grid::Ptr provenance;  // MotionId that made the surface at this voxel; 0: blank
  double voxel = 0;                    // mm
  static constexpr double band_voxels = 3;

  // The stock's origin is the low corner of voxel (first, first, first). So the low faces of a
  // blank, and its high ones where the side is whole eights of voxels, lie in the middle of a leaf
  // of 8^3: a face between two leaves would take twice the memory.
  static constexpr int first = 4;

  // Stock coordinates (mm) of a voxel's lowest corner and of its middle.
  Vec3 corner(const openvdb::Coord& c) const {
    return voxel * Vec3(c.x() - first, c.y() - first, c.z() - first);
  }
  Vec3 middle(const openvdb::Coord& c) const { return corner(c) + Vec3::Constant(0.5 * voxel); }
  // Where a place (mm, stock coordinates) lies among the voxels' middles: whole at a middle.
  Vec3 index(const Vec3& at) const { return at / voxel + Vec3::Constant(first - 0.5); }
  // The voxel that holds a place.
  openvdb::Coord holding(const Vec3& at) const {
    const Vec3 i = at / voxel + Vec3::Constant(first);
    return openvdb::Coord::floor(openvdb::Vec3d(i.x(), i.y(), i.z()));
  }
  // The same for the library, which asks the grids.
  openvdb::math::Transform::Ptr transform() const {
    auto t = openvdb::math::Transform::createLinearTransform(voxel);
    t->postTranslate(openvdb::Vec3d((0.5 - first) * voxel));
    return t;
  }
};

}  // namespace proveout::stock
