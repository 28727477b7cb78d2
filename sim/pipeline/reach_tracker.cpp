#include "sim/pipeline/reach_tracker.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace proveout::pipeline {
namespace {

// Calls each(i, j, distance) for the cells whose centre lies within radius of (x, y).
template <class Map, class Each>
void for_cells(Map& map, double x, double y, double radius, Each each) {
  const auto index = [&](double v, double from, int count) {
    return std::clamp(static_cast<int>(std::floor((v - from) / map.cell)), 0, count - 1);
  };
  if (map.columns == 0 || x + radius < map.x0 || y + radius < map.y0 ||
      x - radius > map.x0 + map.columns * map.cell || y - radius > map.y0 + map.rows * map.cell) {
    return;
  }
  const int i0 = index(x - radius, map.x0, map.columns),
            i1 = index(x + radius, map.x0, map.columns);
  const int j0 = index(y - radius, map.y0, map.rows), j1 = index(y + radius, map.y0, map.rows);
  for (int j = j0; j <= j1; ++j) {
    const double dy = map.y0 + (j + 0.5) * map.cell - y;
    for (int i = i0; i <= i1; ++i) {
      const double dx = map.x0 + (i + 0.5) * map.cell - x;
      const double d2 = dx * dx + dy * dy;
      if (d2 <= radius * radius) each(i, j, d2);
    }
  }
}

// Height above the tip, mm, at which the cutting part first is so wide; beyond its widest: the
// height at which it is widest. radius: mm from the axis.
double height_at(const solid::Body& flutes, double radius) {
  const double wanted = std::min(radius, flutes.largest_radius);
  for (const solid::ProfileSegment& p : flutes.meridian) {
    if (p.to.radius < wanted) continue;
    if (p.is_arc) {
      const double out = std::clamp(wanted - p.centre.radius, 0.0, p.arc_radius);
      return p.centre.height - std::sqrt(p.arc_radius * p.arc_radius - out * out);
    }
    const double wide = p.to.radius - p.from.radius;
    if (!(wide > 0) || wanted <= p.from.radius) return p.from.height;
    return p.from.height + (p.to.height - p.from.height) * (wanted - p.from.radius) / wide;
  }
  return flutes.top;
}

}  // namespace

ReachTracker::ReachTracker(measure::HeightMap map, const std::map<int, solid::ToolBody>& bodies,
                           std::vector<clearance::Barrier> fixtures)
    : map_(std::move(map)), bodies_(bodies), fixtures_(std::move(fixtures)) {
  for (const clearance::Barrier& f : fixtures_) things_.extend(f.box);
  if (map_.columns > 0) {
    const float top = *std::max_element(map_.height.begin(), map_.height.end());
    top_ = top;
    things_.extend(Vec3(map_.x0, map_.y0, top));
    things_.extend(Vec3(map_.x0 + map_.columns * map_.cell, map_.y0 + map_.rows * map_.cell, top));
  }
  if (!things_.isEmpty()) things_.min().z() = std::numeric_limits<double>::lowest();
}

double ReachTracker::highest(double x, double y, double radius) {
  for (const auto& [body, tip] : pending_) cut(*body, tip);
  pending_.clear();
  float most = -1e9f;
  for_cells(map_, x, y, radius,
            [&](int i, int j, double) { most = std::max(most, map_.at(i, j)); });
  return most;
}

void ReachTracker::cut(const solid::ToolBody& body, const Vec3& tip) {
  const double r = std::max(0.5 * map_.cell, body.diameter / 2 - 0.5 * map_.cell);
  for_cells(map_, tip.x(), tip.y(), r, [&](int i, int j, double d2) {
    const double up = height_at(body.flutes, std::sqrt(d2));
    float& h = map_.at(i, j);
    h = std::min(h, static_cast<float>(tip.z() + up));
  });
}

void ReachTracker::follow(const nc::Motion& m, const solid::ToolBody& body, Reach& reach) {
  // Above everything and beside everything nothing is cut and nothing needs reach.
  double widest = body.diameter / 2 + 1.5 * map_.cell;
  for (const solid::Body& part : body.holder) widest = std::max(widest, part.largest_radius);
  Box3 near = things_;
  near.min() -= Vec3(widest, widest, 0);
  near.max() += Vec3(widest, widest, 0);
  const int steps = std::max(1, static_cast<int>(std::ceil(nc::length(m) / map_.cell)));
  const nc::StepRange range = nc::steps_within(m, steps, near);
  for (int k = range.first; k <= range.last; ++k) {
    const Vec3 tip = nc::point_at(m, double(k) / steps);
    if (pending_.size() == most_pending) highest(tip.x(), tip.y(), 0);
    pending_.emplace_back(&body, tip);
    // Nothing stands higher than the map did at first: mostly that settles it.
    if (top_ - tip.z() > reach.reach_used) {
      const double beside =
          highest(tip.x(), tip.y(), body.diameter / 2 + 1.5 * map_.cell) - tip.z();
      reach.reach_used = std::max(reach.reach_used, beside);
    }
    for (const solid::Body& part : body.holder) {
      const double above_face = part.bottom - body.holder.front().bottom;
      if (top_ - tip.z() - above_face > reach.stickout_needed) {
        const double need = highest(tip.x(), tip.y(), part.largest_radius) - tip.z() - above_face;
        reach.stickout_needed = std::max(reach.stickout_needed, need);
      }
      for (const clearance::Barrier& f : fixtures_) {
        if (f.box.max().z() - tip.z() - above_face <= reach.stickout_needed) continue;
        const double top = f.highest_within(tip.x(), tip.y(), part.largest_radius);
        reach.stickout_needed = std::max(reach.stickout_needed, top - tip.z() - above_face);
      }
    }
  }
}

std::map<int, ReachTracker::Reach> ReachTracker::follow(const nc::Program& program) {
  std::map<int, Reach> out;
  for (const nc::Motion& m : program.motions) {
    const int tool = program.states[m.state].tool;
    const auto found = bodies_.find(tool);
    if (found != bodies_.end()) follow(m, found->second, out[tool]);
  }
  return out;
}

}  // namespace proveout::pipeline
