// How far each tool must stand out: the stock's height map is cut along with the motions, and the
// highest material and fixture under the holder is held against the tip. Coarse (cells of a
// millimetre) and on the cautious side by up to a cell.
#pragma once

#include <map>
#include <utility>
#include <vector>

#include "sim/clearance/clearance.h"
#include "sim/measure/height_map.h"
#include "sim/run/result.h"
#include "sim/solid/tool_body.h"

namespace proveout::pipeline {

class ReachTracker {
 public:
  // map: of the stock as the setup finds it, setup frame. fixtures: as for clearances.
  ReachTracker(measure::HeightMap map, const std::map<int, solid::ToolBody>& bodies,
               std::vector<clearance::Barrier> fixtures);

  struct Reach {
    double reach_used = 0;       // mm: deepest the tip stood below material beside the cutter
    double stickout_needed = 0;  // mm: least stick-out with which the holder clears
  };
  // Follows a setup's motions in order.
  std::map<int, Reach> follow(const nc::Program& program);

 private:
  void follow(const nc::Motion& motion, const solid::ToolBody& body, Reach& reach);
  double highest(double x, double y, double radius);
  void cut(const solid::ToolBody& body, const Vec3& tip);

  measure::HeightMap map_;
  const std::map<int, solid::ToolBody>& bodies_;
  std::vector<clearance::Barrier> fixtures_;
  Box3 things_;        // of stock and fixtures, without a floor
  double top_ = -1e9;  // mm, of the map at first
  // Poses that have not been cut from the map yet: that waits until somebody asks.
  std::vector<std::pair<const solid::ToolBody*, Vec3>> pending_;
  static constexpr std::size_t most_pending = 1 << 18;
};

}  // namespace proveout::pipeline
