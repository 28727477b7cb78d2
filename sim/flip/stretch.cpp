#include "sim/flip/stretch.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

namespace proveout::flip {
namespace {

struct Placed {
  Vec3 at, outward;
  stock::MotionId by;
};

// Eight directions, so that the two sides of a thin rib, or of a corner, are not averaged.
int sector(const Vec3& outward) {
  const double turns = std::atan2(outward.y(), outward.x()) / (2 * pi) + 1.0 + 1.0 / 16;
  return static_cast<int>(std::floor(turns * 8)) % 8;
}

Stretch mean_of(const std::vector<Placed>& all, Edge edge, double window) {
  const double sign = edge == Edge::lowest ? 1 : -1;
  const auto nearest = std::min_element(all.begin(), all.end(), [&](const auto& a, const auto& b) {
    return sign * a.at.z() < sign * b.at.z();
  });
  Stretch s;
  s.edge = nearest->at.z();
  s.by = nearest->by;
  Vec3 at = Vec3::Zero(), outward = Vec3::Zero();
  for (const Placed& p : all) {
    if (sign * (p.at.z() - s.edge) > window) continue;
    at += p.at;
    outward += p.outward;
    ++s.samples;
  }
  at /= static_cast<double>(s.samples);
  const double flat = outward.head<2>().norm();
  s.at = at.head<2>();
  s.z = at.z();
  if (flat > 0) {
    s.outward = outward.head<2>() / flat;
    s.lean = -outward.z() / flat;
  }
  return s;
}

}  // namespace

std::vector<Stretch> stretches(std::span<const measure::SurfaceSample> samples,
                               const RigidMotion& plan_from_stock, Edge edge, double cell,
                               double window, const std::function<bool(stock::MotionId)>& keep) {
  std::map<std::tuple<int, int, int>, std::vector<Placed>> cells;
  for (const measure::SurfaceSample& sample : samples) {
    if (!keep(sample.by)) continue;
    const Vec3 outward = plan_from_stock.linear() * sample.outward.cast<double>();
    if (std::abs(outward.z()) > steepest_wall) continue;
    const Vec3 at = plan_from_stock * sample.at.cast<double>();
    cells[{static_cast<int>(std::floor(at.y() / cell)), static_cast<int>(std::floor(at.x() / cell)),
           sector(outward)}]
        .push_back({at, outward, sample.by});
  }
  std::vector<Stretch> out;
  out.reserve(cells.size());
  for (const auto& [place, all] : cells) out.push_back(mean_of(all, edge, window));
  return out;
}

}  // namespace proveout::flip
