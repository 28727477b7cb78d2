#include "sim/stock/engagement.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <new>

namespace proveout::stock {
namespace {

// Sideways distance of two touched points beyond which nothing between them was touched, voxels:
// the grid's diagonal, and half a voxel for where in its voxel each lies.
constexpr double gap_voxels = 2;

double sine_of_bearing(double bearing) {
  return std::sin(degrees_of_bearing(bearing) / deg_per_rad);
}

}  // namespace

ColumnTable::ColumnTable() {
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

const ColumnTable column_table;

namespace {

void raise(std::uint32_t& most, std::uint32_t value) {
  const std::atomic_ref<std::uint32_t> shared(most);
  std::uint32_t seen = shared.load(std::memory_order_relaxed);
  while (value > seen && !shared.compare_exchange_weak(seen, value, std::memory_order_relaxed)) {
  }
}
void widen(Extremes& to, float least, float most) {
  raise(to.below, ~Extremes::rank(least));
  raise(to.above, Extremes::rank(most));
}
void join(std::uint32_t& to, std::uint32_t packed) {
  const std::atomic_ref<std::uint32_t> shared(to);
  std::uint32_t seen = shared.load(std::memory_order_relaxed);
  std::uint32_t both = PackedExtent::joined(seen, packed);
  while (both != seen && !shared.compare_exchange_weak(seen, both, std::memory_order_relaxed))
    both = PackedExtent::joined(seen, packed);
}

}  // namespace

template <class T>
SegmentStore::Zeros<T> SegmentStore::zeros(std::size_t count) {
  Zeros<T> made(static_cast<T*>(std::calloc(std::max<std::size_t>(count, 1), sizeof(T))));
  if (made == nullptr) throw std::bad_alloc();
  return made;
}

SegmentStore::SegmentStore(std::size_t segments, bool areas)
    : met_(segments), totals_(zeros<SegmentTotals>(segments)) {
  if (areas) extents_ = zeros<PackedColumns>(segments);
}

void SegmentStore::add(std::size_t segment, const LocalSegmentTotals& some) {
  if (some.volume == 0 && some.arc == 0) return;
  std::atomic_ref(met_[segment]).store(1, std::memory_order_relaxed);
  SegmentTotals& to = totals_[segment];
  if (some.volume != 0)
    std::atomic_ref(to.volume).fetch_add(some.volume, std::memory_order_relaxed);
  if (some.arc == 0) return;
  std::atomic_ref(to.arc).fetch_or(some.arc, std::memory_order_relaxed);
  widen(to.height, some.height_min, some.height_max);
  widen(to.left, some.left_min, some.left_max);
  widen(to.bearing, some.bearing_min, some.bearing_max);
  if (!extents_) return;
  widen(to.turn, some.turn_min, some.turn_max);
  widen(to.back, some.back_min, some.back_max);
  for (std::uint64_t left = some.columns; left != 0; left &= left - 1) {
    const auto k = static_cast<std::size_t>(std::countr_zero(left));
    join(extents_[segment][k], some.extents[k]);
  }
}

int segment_count(double length, double radius) {
  if (!(length > 0) || !(radius > 0)) return 1;
  return std::clamp(static_cast<int>(std::ceil(length / (0.25 * radius))), 1, 100000);
}

namespace {

// The columns, and where the area begins and ends: by the exact bearings of the outermost points,
// seen from ahead, or from behind where it reaches round there and not ahead.
void finish_area(const SegmentTotals& s, const PackedColumns& columns, EngagementSample& out,
                 std::vector<ColumnExtent>& extents) {
  out.first_extent = static_cast<std::uint32_t>(extents.size());
  for (std::size_t k = 0; k < bearing_columns; ++k)
    out.columns |= static_cast<std::uint64_t>(columns[k] != 0) << k;
  const std::size_t before = extents.size();
  extents.resize(before + static_cast<std::size_t>(std::popcount(out.columns)));
  ColumnExtent* extent = extents.data() + before;
  for (std::uint64_t left = out.columns; left != 0; left &= left - 1)
    *extent++ = PackedExtent::extent(columns[static_cast<std::size_t>(std::countr_zero(left))]);
  const std::uint64_t ends = std::uint64_t{1} << 63 | 1;
  if (~out.columns == 0) return;  // all round
  if ((out.columns & ends) != ends) {
    out.area_from = static_cast<float>(degrees_of_bearing(s.turn.least()));
    out.area_to = static_cast<float>(degrees_of_bearing(s.turn.most()));
    return;
  }
  double from = 180 + degrees_of_bearing(s.back.least());
  double to = 180 + degrees_of_bearing(s.back.most());
  if (from > 180) from -= 360, to -= 360;
  out.area_from = static_cast<float>(from);
  out.area_to = static_cast<float>(std::min(to, from + 360));
}

}  // namespace

EngagementSample finish(const SegmentTotals& s, const PackedColumns* columns, double voxel,
                        bool plunging, std::vector<ColumnExtent>& extents) {
  EngagementSample out;
  const double cube = voxel * voxel * voxel;
  out.removed_mm3 = static_cast<float>(double(s.volume) / SegmentTotals::volume_scale * cube);
  const std::uint64_t arc = s.arc;
  if (arc == 0) return out;
  if (columns != nullptr) finish_area(s, *columns, out, extents);
  out.bottom = s.height.least();
  out.axial_depth = s.height.most() - out.bottom;
  out.radial_width = s.left.most() - s.left.least();
  const double whole = plunging ? 2 : 1;
  if (plunging && std::popcount(arc) > 56) {
    out.arc_from = -180;
    out.arc_to = 180;
    out.arc = 360;
    return out;
  }
  out.arc_from = static_cast<float>(degrees_of_bearing(s.bearing.least()));
  out.arc_to = static_cast<float>(degrees_of_bearing(s.bearing.most()));
  // Gaps of more than two bins between first and last are air, unless the grid alone may leave
  // them: points lie up to a voxel apart sideways, which at the rim is a wide angle. The radius at
  // which the cut happens follows from its outermost point.
  const double left = std::max<double>(std::abs(s.left.least()), std::abs(s.left.most()));
  const double sine = std::max(std::abs(sine_of_bearing(s.bearing.least())),
                               std::abs(sine_of_bearing(s.bearing.most())));
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
