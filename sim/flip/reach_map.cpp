#include <algorithm>
#include <array>
#include <cmath>

#include "sim/flip/seam.h"

namespace proveout::flip {
namespace {

// Height of a cutter's underside above its tip at equal steps of radius.
class Underside {
 public:
  explicit Underside(const solid::ToolBody& body) : radius_(body.flutes.largest_radius) {
    const double top = body.flutes.top;
    for (std::size_t k = 0; k < heights_.size(); ++k) {
      const double r = radius_ * static_cast<double>(k) / (count - 1) - 1e-9;
      double low = body.flutes.bottom, high = top;
      if (body.cutting_radius(low) >= r) {
        heights_[k] = low;
        continue;
      }
      for (int turn = 0; turn < 40; ++turn) {
        const double middle = 0.5 * (low + high);
        (body.cutting_radius(middle) >= r ? high : low) = middle;
      }
      heights_[k] = high;
    }
  }
  double radius() const { return radius_; }
  double at(double r) const {  // 0 <= r <= radius
    const double k = r / radius_ * (count - 1);
    const auto i = std::min<std::size_t>(count - 2, static_cast<std::size_t>(k));
    return heights_[i] + (k - static_cast<double>(i)) * (heights_[i + 1] - heights_[i]);
  }

 private:
  static constexpr std::size_t count = 33;
  double radius_;
  std::array<double, count> heights_{};
};

void stamp(measure::HeightMap& map, const Underside& tool, const Vec3& tip) {
  const auto index = [&](double v, double from) {
    return static_cast<int>(std::floor((v - from) / map.cell));
  };
  const double r = tool.radius();
  if (!(std::abs(tip.x()) < 1e6 && std::abs(tip.y()) < 1e6)) return;
  const int i0 = std::max(0, index(tip.x() - r, map.x0));
  const int i1 = std::min(map.columns - 1, index(tip.x() + r, map.x0));
  const int j0 = std::max(0, index(tip.y() - r, map.y0));
  const int j1 = std::min(map.rows - 1, index(tip.y() + r, map.y0));
  for (int j = j0; j <= j1; ++j) {
    const double dy = map.y0 + (j + 0.5) * map.cell - tip.y();
    for (int i = i0; i <= i1; ++i) {
      const double dx = map.x0 + (i + 0.5) * map.cell - tip.x();
      const double d2 = dx * dx + dy * dy;
      if (d2 > r * r) continue;
      float& h = map.at(i, j);
      // Nothing is gained where even the tip does not come higher.
      if (tip.z() <= h) continue;
      h = std::max(h, static_cast<float>(tip.z() - tool.at(std::sqrt(d2))));
    }
  }
}

}  // namespace

measure::HeightMap reach_map(const nc::Program& program,
                             const std::map<int, solid::ToolBody>& bodies,
                             const RigidMotion& plan_from_later, const measure::HeightMap& cells) {
  measure::HeightMap map = cells;
  std::fill(map.height.begin(), map.height.end(), -1e9f);
  std::map<int, Underside> tools;
  for (const auto& [number, body] : bodies) tools.emplace(number, Underside(body));
  for (const nc::Motion& m : program.motions) {
    const auto tool = tools.find(program.states[m.state].tool);
    if (tool == tools.end()) continue;
    const int steps =
        std::clamp(static_cast<int>(std::ceil(nc::length(m) / map.cell)), 1, 1'000'000);
    for (int k = 0; k <= steps; ++k)
      stamp(map, tool->second, plan_from_later * nc::point_at(m, static_cast<double>(k) / steps));
  }
  return map;
}

}  // namespace proveout::flip
