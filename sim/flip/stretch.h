// Walls seen from above, in stretches of about a millimetre: what one side left just above where it
// ends, and what the other made just below.
#pragma once

#include <functional>
#include <span>
#include <vector>

#include "sim/measure/surface_samples.h"

namespace proveout::flip {

using Vec2 = Eigen::Vector2d;

// The plan is the earlier setup's frame: x, y across its tool axis, z up along it.
struct Stretch {
  Vec2 at = Vec2::Zero();       // mm, plan, at height z
  Vec2 outward = Vec2::Zero();  // plan, unit, out of the material
  double z = 0;                 // mm, mean height of its samples
  double lean = 0;              // mm outwards per mm of height; 0: upright
  double edge = 0;              // mm, height of the sample nearest to where the sides meet
  stock::MotionId by = 0;       // of that sample
  std::size_t samples = 0;
  Vec2 at_height(double height) const { return at + lean * (height - z) * outward; }
};

enum class Edge { lowest, highest };

// Samples whose normal lies within steepest of the plan (|normal . axis| <= steepest) are wall.
inline constexpr double steepest_wall = 0.5;

// cell: mm, size of a stretch in plan. window: mm, only samples this near in height to the edge of
// their cell are used. Samples that keep refuses are left out. In order of cells: rows, columns.
std::vector<Stretch> stretches(std::span<const measure::SurfaceSample> samples,
                               const RigidMotion& plan_from_stock, Edge edge, double cell,
                               double window, const std::function<bool(stock::MotionId)>& keep);

}  // namespace proveout::flip
