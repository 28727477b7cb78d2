#include "sim/measure/plane_section.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <deque>
#include <unordered_map>

#include "sim/stock/occupancy.h"

namespace proveout::measure {

std::pair<Vec3, Vec3> across(const Vec3& normal) {
  int least = 0;
  normal.cwiseAbs().minCoeff(&least);
  const Vec3 first = normal.cross(Vec3::Unit(least)).normalized();
  return {first, normal.cross(first)};
}

std::optional<PlaneSection> plane_section(const FieldSampler& field, const Vec3& through,
                                          const Vec3& normal, double most_mm2, double step) {
  const double h = step;
  if (field(through) >= 0) return std::nullopt;
  const auto axes = across(normal);
  const Vec3 &u = axes.first, &v = axes.second;
  const auto place = [&](int i, int j) { return Vec3(through + i * h * u + j * h * v); };
  const auto key = [](int i, int j) {
    return (static_cast<std::int64_t>(i) << 32) ^ static_cast<std::uint32_t>(j);
  };
  struct Sample {
    int i, j;
    int beyond;  // steps since it left the material
  };
  // The material first, then the rim of air that the smeared edge reaches into.
  const int rim =
      static_cast<int>(std::ceil(stock::Occupancy::half_width_voxels * field.voxel() / step)) + 1;
  std::unordered_map<std::int64_t, bool> met;
  std::deque<Sample> inside{{0, 0, 0}}, outside;
  met[key(0, 0)] = true;
  const stock::Occupancy occupancy(field.voxel());
  PlaneSection out;
  double cells = 0;
  const double most = most_mm2 / (h * h);
  Vec3 moment = Vec3::Zero();
  const auto take = [&](const Sample& s, double distance) {
    const double share = occupancy(static_cast<float>(distance));
    cells += share;
    moment += share * place(s.i, s.j);
  };
  while (!inside.empty() || !outside.empty()) {
    std::deque<Sample>& from = inside.empty() ? outside : inside;
    const Sample s = from.front();
    from.pop_front();
    const double distance = field(place(s.i, s.j));
    if (distance >= 0 && s.beyond == 0) {
      outside.push_back({s.i, s.j, 1});
      continue;
    }
    if (distance < 0 && s.beyond > 0) continue;  // another piece of material
    take(s, distance);
    if (cells > 1.2 * most + 40) return std::nullopt;
    if (distance < 0) out.places.push_back(place(s.i, s.j));
    if (s.beyond >= rim) continue;
    for (int n = 0; n < 4; ++n) {
      const int i = s.i + (n == 0) - (n == 1), j = s.j + (n == 2) - (n == 3);
      if (!met.emplace(key(i, j), true).second) continue;
      (s.beyond > 0 ? outside : inside).push_back({i, j, s.beyond > 0 ? s.beyond + 1 : 0});
    }
  }
  out.area_mm2 = cells * h * h;
  if (!(cells > 0) || out.area_mm2 > most_mm2) return std::nullopt;
  out.middle = moment / cells;
  return out;
}

double narrowest_way(const FieldSampler& field, const Vec3& through, const Vec3& normal,
                     double reach) {
  constexpr int directions = 24;
  const auto [u, v] = across(normal);
  const double step = field.voxel() / 2;
  const auto way_out = [&](const Vec3& direction) {
    double before = field(through);
    for (double at = step; at < reach; at += step) {
      const double now = field(through + at * direction);
      if (now >= 0) return at - step * now / (now - before);
      before = now;
    }
    return reach;
  };
  double least = 2 * reach;
  for (int k = 0; k < directions; ++k) {
    const double angle = pi * k / directions;
    const Vec3 direction = std::cos(angle) * u + std::sin(angle) * v;
    least = std::min(least, way_out(direction) + way_out(-direction));
  }
  return least;
}

}  // namespace proveout::measure
