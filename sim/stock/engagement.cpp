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

int column_of(float turn) {
  // Equal angles are unequal steps of the measure; between two of these 256 lies one end of a
  // column at most.
  struct Table {
    std::array<float, bearing_columns + 1> end{};  // where columns begin
    std::array<std::uint8_t, 257> first{};
    Table() {
      const auto measure = [](double deg) {
        const double a = deg / deg_per_rad, l = std::abs(std::sin(a)), c = std::cos(a);
        const double size = c >= 0 ? l / (l + c) : 2 - l / (l - c);
        return std::copysign(size, deg);
      };
      for (int k = 0; k <= bearing_columns; ++k)
        end[static_cast<std::size_t>(k)] = static_cast<float>(measure(-180 + k * column_deg));
      end.front() = -2, end.back() = 2;
      std::size_t k = 0;
      for (std::size_t i = 0; i < first.size(); ++i) {
        const float from = -2.f + static_cast<float>(i) / 64.f;
        while (k + 1 < bearing_columns && end[k + 1] <= from) ++k;
        first[i] = static_cast<std::uint8_t>(k);
      }
    }
  };
  static const Table table;
  if (turn < -2.f) turn += 4.f;
  if (turn >= 2.f) turn -= 4.f;
  const int bin = std::clamp(static_cast<int>((turn + 2.f) * 64.f), 0, 255);
  const std::size_t k = table.first[static_cast<std::size_t>(bin)];
  return static_cast<int>(k + 1 < bearing_columns && turn >= table.end[k + 1] ? k + 1 : k);
}

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
  lower(into.turn_min, ordered(turn_min));
  raise(into.turn_max, ordered(turn_max));
  lower(into.back_min, ordered(back_min));
  raise(into.back_max, ordered(back_max));
  for (std::uint64_t left = columns; left != 0; left &= left - 1) {
    const auto k = static_cast<std::size_t>(std::countr_zero(left));
    join(into.extents[k], extents[k]);
  }
}

int segment_count(double length, double radius) {
  if (!(length > 0) || !(radius > 0)) return 1;
  return std::clamp(static_cast<int>(std::ceil(length / (0.25 * radius))), 1, 100000);
}

namespace {

// The columns, and where the area begins and ends: by the exact bearings of the outermost points,
// seen from ahead, or from behind where it reaches round there and not ahead.
void finish_area(const SegmentTotals& s, EngagementSample& out,
                 std::vector<ColumnExtent>& extents) {
  out.first_extent = static_cast<std::uint32_t>(extents.size());
  for (std::size_t k = 0; k < bearing_columns; ++k) {
    const std::uint32_t packed = s.extents[k].load();
    if (packed == 0) continue;
    out.columns |= std::uint64_t{1} << k;
    extents.push_back(PackedExtent::extent(packed));
  }
  const std::uint64_t ends = std::uint64_t{1} << 63 | 1;
  if (~out.columns == 0) return;  // all round
  if ((out.columns & ends) != ends) {
    out.area_from = static_cast<float>(degrees_of_bearing(unordered(s.turn_min)));
    out.area_to = static_cast<float>(degrees_of_bearing(unordered(s.turn_max)));
    return;
  }
  double from = 180 + degrees_of_bearing(unordered(s.back_min));
  double to = 180 + degrees_of_bearing(unordered(s.back_max));
  if (from > 180) from -= 360, to -= 360;
  out.area_from = static_cast<float>(from);
  out.area_to = static_cast<float>(std::min(to, from + 360));
}

}  // namespace

EngagementSample finish(const SegmentTotals& s, double voxel, bool plunging,
                        std::vector<ColumnExtent>& extents) {
  EngagementSample out;
  const double cube = voxel * voxel * voxel;
  out.removed_mm3 =
      static_cast<float>(double(s.volume.load()) / SegmentTotals::volume_scale * cube);
  const std::uint64_t arc = s.arc.load();
  if (arc == 0) return out;
  finish_area(s, out, extents);
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
