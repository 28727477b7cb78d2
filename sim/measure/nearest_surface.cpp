#include "sim/measure/nearest_surface.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/measure/surface.h"

namespace proveout::measure {

NearestSurface::NearestSurface(const stock::Stock::Fields& fields) : voxel_(fields.voxel) {
  std::vector<std::vector<Point>> lists(leaf_count(fields));
  for_surface_points(fields, false, [&](std::size_t leaf, const SurfacePoint& p) {
    lists[leaf].push_back(
        {p.at.cast<float>(), p.outward.cast<float>(),
         static_cast<stock::MotionId>(fields.provenance->tree().getValue(p.voxel))});
  });
  for (const auto& l : lists) points_.insert(points_.end(), l.begin(), l.end());
  build(0, points_.size(), 0);
}

// The middle of a range splits it, along x, y and z by turns (Bentley, "Multidimensional binary
// search trees used for associative searching", Comm. ACM 18 (1975) 509-517).
void NearestSurface::build(std::size_t first, std::size_t last, int axis) {
  if (last - first < 2) return;
  const std::size_t middle = first + (last - first) / 2;
  std::nth_element(points_.begin() + static_cast<long>(first),
                   points_.begin() + static_cast<long>(middle),
                   points_.begin() + static_cast<long>(last), [&](const Point& a, const Point& b) {
                     for (int k = 0; k < 3; ++k) {
                       const int i = (axis + k) % 3;
                       if (a.at[i] != b.at[i]) return a.at[i] < b.at[i];
                     }
                     return a.by < b.by;
                   });
  build(first, middle, (axis + 1) % 3);
  build(middle + 1, last, (axis + 1) % 3);
}

NearestSurface::Found NearestSurface::from(const Vec3& at) const {
  Found found;
  if (points_.empty()) return found;
  const Eigen::Vector3f from = at.cast<float>();
  const auto h = static_cast<float>(voxel_);
  float bound = 1e30f;  // no point beyond it can be nearer, even by its plane
  struct Range {
    std::size_t first, last;
    int axis;
    float away;
  };
  std::array<Range, 128> stack;
  int depth = 0;
  stack[static_cast<std::size_t>(depth++)] = {0, points_.size(), 0, 0.f};
  while (depth > 0) {
    const Range r = stack[static_cast<std::size_t>(--depth)];
    if (r.first >= r.last || r.away > bound) continue;
    const std::size_t middle = r.first + (r.last - r.first) / 2;
    const Point& p = points_[middle];
    const Eigen::Vector3f step = from - p.at;
    const float straight = step.norm();
    if (straight <= bound) {
      const float square = step.dot(p.outward);
      const float aside = std::sqrt(std::max(0.f, straight * straight - square * square));
      const double way = aside < 0.75f * h ? std::abs(square) : straight;
      if (way < found.way) {
        found = {way,
                 (p.at + (way < straight ? Eigen::Vector3f(step - square * p.outward)
                                         : Eigen::Vector3f::Zero()))
                     .cast<double>(),
                 p.by};
        const auto w = static_cast<float>(way);
        bound = std::min(bound, std::sqrt(w * w + h * h) + 1e-4f * h);
      }
    }
    const float side = step[r.axis];
    const int next = (r.axis + 1) % 3;
    const Range low{r.first, middle, next, std::max(r.away, side > 0 ? side : 0.f)};
    const Range high{middle + 1, r.last, next, std::max(r.away, side < 0 ? -side : 0.f)};
    stack[static_cast<std::size_t>(depth++)] = side > 0 ? low : high;
    stack[static_cast<std::size_t>(depth++)] = side > 0 ? high : low;
  }
  return found;
}

}  // namespace proveout::measure
