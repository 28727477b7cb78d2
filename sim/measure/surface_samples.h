// Places on the stock's surface with who made them: what the rooms that compare sides, or fit a
// surface to the part, start from.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct SurfaceSample {
  Eigen::Vector3f at;       // mm, stock coordinates, on the surface
  Eigen::Vector3f outward;  // unit normal, stock coordinates
  stock::MotionId by = 0;   // the motion that made it; 0: the blank's own
};

// One sample a voxel beside single faces (places at edges, where the sampled surface is rounded,
// are left out), those that are wanted. most: where there are about more surface voxels than this,
// every n-th is looked at, picked by its place in the grid. Same samples in the same order for any
// number of threads; wanted is called from several at once.
std::vector<SurfaceSample> surface_samples(
    const stock::Stock& stock,
    const std::function<bool(const Vec3& outward, stock::MotionId by)>& wanted, std::size_t most);

}  // namespace proveout::measure
