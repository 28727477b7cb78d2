// The stock's OpenVDB grids, for the rooms that measure, mesh or draw it. Include this only where
// the grids are touched: OpenVDB's headers are slow to compile.
#pragma once

#include <openvdb/openvdb.h>

#include <algorithm>
#include <cstdint>
#include <memory>
#include <utility>

#include "sim/stock/stock.h"

namespace proveout::stock {

using DistanceTree = openvdb::tree::Tree4<std::int16_t, 5, 4, 3>::Type;
using DistanceGrid = openvdb::Grid<DistanceTree>;
using DistanceLeaf = DistanceTree::LeafNodeType;

}  // namespace proveout::stock

// Compiled once, in grids.cpp: else every source that touches a grid compiles both trees whole,
// which is half of its time.
extern template class openvdb::tree::Tree<proveout::stock::DistanceTree::RootNodeType>;
extern template class openvdb::Grid<proveout::stock::DistanceTree>;
extern template class openvdb::tree::Tree<openvdb::Int32Tree::RootNodeType>;
extern template class openvdb::Grid<openvdb::Int32Tree>;

namespace proveout::stock {

// Calls each(iterator) for the blocks of a distance tree that are material throughout, not for the
// voxels of its leaves.
template <class Tree, class Each>
void for_blocks_of_material(const Tree& tree, Each each) {
  auto it = tree.cbeginValueAll();
  it.setMaxDepth(decltype(it)::LEAF_DEPTH - 1);
  for (; it; ++it) {
    if (!it.isVoxelValue() && *it < 0) each(it);
  }
}

// A grid that is const where its holder is: the library's own pointers hand out a grid to change
// from a const holder too.
template <class Grid>
class HeldGrid {
 public:
  HeldGrid() = default;
  HeldGrid(std::shared_ptr<Grid> grid) : grid_(std::move(grid)) {}
  Grid* operator->() { return grid_.get(); }
  const Grid* operator->() const { return grid_.get(); }
  explicit operator bool() const { return grid_ != nullptr; }

 private:
  std::shared_ptr<Grid> grid_;
};

struct Stock::Fields {
  // The distance to the surface, negative inside, in steps of an 8192th of a voxel: half the memory
  // of floating point, and a face meets all the voxels along it at the same fraction of a step.
  // Level set, half width band_voxels; voxels at less than that are the active ones. Read it with a
  // DistanceReader (distance_reader.h), which gives mm.
  HeldGrid<DistanceGrid> steps;
  HeldGrid<openvdb::Int32Grid>
      provenance;    // MotionId that made the surface at this voxel; 0: blank
  double voxel = 0;  // mm
  static constexpr double band_voxels = 3;
  static constexpr int steps_a_voxel = 8192;
  static constexpr std::int16_t band_steps = 3 * steps_a_voxel;

  float mm_a_step() const { return static_cast<float>(voxel) / steps_a_voxel; }
  float band() const { return band_steps * mm_a_step(); }  // mm
  // To the nearest step; beyond the band, the band's end. A number of steps in mm comes back as
  // that number.
  struct Rounding {
    float steps_a_mm;
    std::int16_t operator()(float mm) const {
      const float held = std::clamp<float>(mm * steps_a_mm, -band_steps, band_steps);
      return static_cast<std::int16_t>(static_cast<int>(held + 32768.5f) - 32768);
    }
  };
  Rounding rounding() const { return {static_cast<float>(steps_a_voxel / voxel)}; }

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
  // A grid of distances that are all air, on the stock's voxels.
  DistanceGrid::Ptr air() const {
    auto grid = DistanceGrid::create(band_steps);
    grid->setTransform(transform());
    grid->setGridClass(openvdb::GRID_LEVEL_SET);
    grid->setName("distance");
    return grid;
  }
};

}  // namespace proveout::stock
