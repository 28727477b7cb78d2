#include "sim/measure/deviation.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "sim/measure/surface.h"

namespace proveout::measure {
namespace {

struct Point {
  Vec3 at;
  double deviation;
  stock::MotionId by;
};

std::vector<DeviationSpot> spots_of(const std::vector<Point>& points, double area, double cell) {
  std::map<std::tuple<stock::MotionId, long, long, long>, DeviationSpot> spots;
  for (const Point& p : points) {
    const auto part = [&](double v) { return static_cast<long>(std::floor(v / cell)); };
    DeviationSpot& s = spots[{p.by, part(p.at.x()), part(p.at.y()), part(p.at.z())}];
    s.volume_mm3 += std::abs(p.deviation) * area;
    if (std::abs(p.deviation) > std::abs(s.deviation)) {
      s.deviation = p.deviation;
      s.at = p.at;
      s.by = p.by;
    }
  }
  std::vector<DeviationSpot> out;
  for (const auto& [key, spot] : spots) out.push_back(spot);
  std::stable_sort(out.begin(), out.end(), [](const DeviationSpot& a, const DeviationSpot& b) {
    return std::abs(a.deviation) > std::abs(b.deviation);
  });
  return out;
}

}  // namespace

Deviation deviation(const stock::Stock& stock, const solid::PartDistance& part,
                    double gouge_tolerance, double excess_tolerance,
                    const std::vector<Box3>& left_out, double cell_mm) {
  const auto& f = stock.fields();
  std::vector<std::vector<Point>> missing(leaf_count(f)), left(leaf_count(f));
  const double margin = 1.5 * f.voxel;
  for_surface_points(f, true, [&](std::size_t leaf, const SurfacePoint& p) {
    for (const Box3& box : left_out) {
      if ((p.at.array() > box.min().array() - margin).all() &&
          (p.at.array() < box.max().array() + margin).all()) {
        return;
      }
    }
    const double d = part.at_mostly_near(p.at, f.voxel);
    if (d >= -gouge_tolerance && d <= excess_tolerance) return;
    const auto id = static_cast<stock::MotionId>(f.provenance->tree().getValue(p.voxel));
    (d < 0 ? missing : left)[leaf].push_back({p.at, d, id});
  });
  const auto flat = [](const std::vector<std::vector<Point>>& lists) {
    std::vector<Point> all;
    for (const auto& l : lists) all.insert(all.end(), l.begin(), l.end());
    return all;
  };
  const double area = f.voxel * f.voxel;
  Deviation out;
  out.gouges = spots_of(flat(missing), area, cell_mm);
  out.excesses = spots_of(flat(left), area, cell_mm);
  for (const auto& s : out.gouges) out.gouge_mm3 += s.volume_mm3;
  for (const auto& s : out.excesses) out.excess_mm3 += s.volume_mm3;
  if (!out.gouges.empty()) out.worst_gouge = -out.gouges.front().deviation;
  if (!out.excesses.empty()) out.worst_excess = out.excesses.front().deviation;
  return out;
}

}  // namespace proveout::measure
