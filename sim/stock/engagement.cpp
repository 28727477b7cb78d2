#include "sim/stock/engagement.h"

#include <algorithm>
#include <cmath>

namespace proveout::stock {
namespace {

// Sideways distance of two touched points beyond which nothing between them was touched, voxels:
// the grid's diagonal, and half a voxel for where in its voxel each lies.
constexpr double gap_voxels = 2;

double sine_of_bearing(double bearing) {
  return std::sin(degrees_of_bearing(bearing) / deg_per_rad);
}

}  // namespace

void LocalSegmentTotals::flush(SegmentTotals& into) const {
  if (volume != 0) into.volume.fetch_add(volume, std::memory_order_relaxed);
  if (arc == 0) return;
  into.arc.fetch_or(arc, std::memory_order_relaxed);
  lower(into.height_min, ordered(height_min));
  raise(into.height_max, ordered(height_max));
  lower(into.left_min, ordered(left_min));
  raise(into.left_max, ordered(left_max));
  lower(into.bearing_min, ordered(bearing_min));
  raise(into.bearing_max, ordered(bearing_max));
}

int segment_count(double length, double radius) {
  if (!(length > 0) || !(radius > 0)) return 1;
  return std::clamp(static_cast<int>(std::ceil(length / (0.25 * radius))), 1, 100000);
}

EngagementSample finish(const SegmentTotals& s, double voxel, bool plunging) {
  EngagementSample out;
  const double cube = voxel * voxel * voxel;
  out.removed_mm3 =
      static_cast<float>(double(s.volume.load()) / SegmentTotals::volume_scale * cube);
  const std::uint64_t arc = s.arc.load();
  if (arc == 0) return out;
  out.bottom = unordered(s.height_min);
  out.axial_depth = unordered(s.height_max) - out.bottom;
  out.radial_width = unordered(s.left_max) - unordered(s.left_min);
  const double whole = plunging ? 2 : 1;
  if (plunging && std::popcount(arc) > 56) {
    out.arc_from = -180;
    out.arc_to = 180;
    out.arc = 360;
    return out;
  }
  out.arc_from = static_cast<float>(degrees_of_bearing(unordered(s.bearing_min)));
  out.arc_to = static_cast<float>(degrees_of_bearing(unordered(s.bearing_max)));
  // Gaps of more than two bins between first and last are air, unless the grid alone may leave
  // them: points lie up to a voxel apart sideways, which at the rim is a wide angle. The radius at
  // which the cut happens follows from its outermost point.
  const double left =
      std::max<double>(std::abs(unordered(s.left_min)), std::abs(unordered(s.left_max)));
  const double sine = std::max(std::abs(sine_of_bearing(unordered(s.bearing_min))),
                               std::abs(sine_of_bearing(unordered(s.bearing_max))));
  const double radius = sine > 0.05 ? left / sine : 0;
  const double least_sideways = gap_voxels * voxel;
  const auto bearing_at = [&](int bin) { return (bin / 32.0 - 1) * whole; };
  const auto is_air = [&](int from, int to) {
    if (to - from <= 2) return false;
    return plunging ||
           radius * (sine_of_bearing(bearing_at(to)) - sine_of_bearing(bearing_at(from))) >
               least_sideways;
  };
  const int first = std::countr_zero(arc), last = 63 - std::countl_zero(arc);
  int gap = 0;
  double air = 0;
  for (int i = first; i <= last; ++i) {
    if (arc >> i & 1) {
      if (is_air(i - gap, i))
        air += degrees_of_bearing(bearing_at(i)) - degrees_of_bearing(bearing_at(i - gap));
      gap = 0;
    } else {
      ++gap;
    }
  }
  out.arc = std::max(0.f, out.arc_to - out.arc_from - static_cast<float>(air));
  return out;
}

}  // namespace proveout::stock
