#include "sim/stock/engagement.h"

#include <algorithm>
#include <cmath>

namespace proveout::stock {

void StretchLocal::add_point(const FirstTouch& t) {
  height_min = std::min(height_min, t.height);
  height_max = std::max(height_max, t.height);
  if (t.plunging) {
    const float rho = std::hypot(t.left, t.ahead);
    left_min = std::min(left_min, -rho);
    left_max = std::max(left_max, rho);
    const float angle = static_cast<float>(std::atan2(t.left, t.ahead) * deg_per_rad);
    arc |= std::uint64_t{1} << std::clamp(static_cast<int>((angle + 180.f) / 360.f * 64), 0, 63);
    angle_min = std::min(angle_min, angle);
    angle_max = std::max(angle_max, angle);
    return;
  }
  left_min = std::min(left_min, t.left);
  left_max = std::max(left_max, t.left);
  const float angle = static_cast<float>(std::atan2(t.left, std::max(t.ahead, 0.f)) * deg_per_rad);
  arc |= std::uint64_t{1} << std::clamp(static_cast<int>((angle + 90.f) / 180.f * 64), 0, 63);
  angle_min = std::min(angle_min, angle);
  angle_max = std::max(angle_max, angle);
}

void StretchLocal::flush(Stretch& into) const {
  if (volume != 0) into.volume.fetch_add(volume, std::memory_order_relaxed);
  if (arc == 0) return;
  into.arc.fetch_or(arc, std::memory_order_relaxed);
  lower(into.height_min, ordered(height_min));
  raise(into.height_max, ordered(height_max));
  lower(into.left_min, ordered(left_min));
  raise(into.left_max, ordered(left_max));
  lower(into.angle_min, ordered(angle_min));
  raise(into.angle_max, ordered(angle_max));
}

int stretch_count(double length, double radius) {
  if (!(length > 0) || !(radius > 0)) return 1;
  return std::clamp(static_cast<int>(std::ceil(length / (0.25 * radius))), 1, 100000);
}

EngagementSample finish(const Stretch& s, double voxel, bool plunging) {
  EngagementSample out;
  const double cube = voxel * voxel * voxel;
  out.removed_mm3 = static_cast<float>(double(s.volume.load()) / Stretch::volume_scale * cube);
  const std::uint64_t arc = s.arc.load();
  if (arc == 0) return out;
  out.bottom = unordered(s.height_min);
  out.axial_depth = unordered(s.height_max) - out.bottom;
  out.radial_width = unordered(s.left_max) - unordered(s.left_min);
  const float bin = (plunging ? 360.f : 180.f) / 64;
  const float low = plunging ? -180.f : -90.f;
  if (plunging && std::popcount(arc) > 56) {
    out.arc_from = -180;
    out.arc_to = 180;
    out.arc = 360;
    return out;
  }
  out.arc_from = std::max(low, unordered(s.angle_min));
  out.arc_to = unordered(s.angle_max);
  // Gaps of more than two bins between first and last are air.
  const int first = std::countr_zero(arc), last = 63 - std::countl_zero(arc);
  int gap = 0, air = 0;
  for (int i = first; i <= last; ++i) {
    if (arc >> i & 1) {
      if (gap > 2) air += gap;
      gap = 0;
    } else {
      ++gap;
    }
  }
  out.arc = std::max(0.f, out.arc_to - out.arc_from - bin * static_cast<float>(air));
  return out;
}

}  // namespace proveout::stock
