// What each segment of a motion meets, gathered from points in the material it takes
// (engagement_sampler.h). All sums and extremes are integers, so they do not depend on the order in
// which tiles are done.
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <vector>

#include "sim/stock/stock.h"
#include "sim/stock/sweep.h"

namespace proveout::stock {

// Floats as integers of the same order.
inline std::int32_t ordered(float value) {
  const auto bits = std::bit_cast<std::int32_t>(value);
  return bits >= 0 ? bits : std::int32_t(0x80000000u) - bits;
}
inline float unordered(std::int32_t key) {
  return std::bit_cast<float>(key >= 0 ? key : std::int32_t(0x80000000u) - key);
}

// Lowest and highest place of a column in one number, such that the greater halves of two are those
// of both together; 0: nothing engaged.
struct PackedExtent {
  static std::uint32_t of(std::uint32_t step) { return (0xFFFFu - step) << 16 | step; }
  static std::uint32_t joined(std::uint32_t a, std::uint32_t b) {
    const std::uint32_t low = std::max(a >> 16, b >> 16), high = std::max(a & 0xFFFFu, b & 0xFFFFu);
    return low << 16 | high;
  }
  static ColumnExtent extent(std::uint32_t packed) {
    return {static_cast<std::uint16_t>(0xFFFFu - (packed >> 16)),
            static_cast<std::uint16_t>(packed & 0xFFFFu)};
  }
};
// Equal angles are unequal steps of a bearing's measure; between two of 256 steps lies one end of a
// column at most.
struct ColumnTable {
  std::array<float, bearing_columns + 1> end{};  // where columns begin; the last is 2
  std::array<std::uint8_t, 256> first{};         // column at the begin of each step
  ColumnTable();
};
extern const ColumnTable column_table;

// The column of a bearing over the whole turn, -2..2 (see bearing_of; beyond it goes on round,
// once).
inline int column_of(float turn) {
  if (turn < -2.f) turn += 4.f;
  if (turn >= 2.f) turn -= 4.f;
  const int bin = static_cast<int>((turn + 2.f) * 64.f);
  const std::size_t k = column_table.first[static_cast<std::size_t>(std::clamp(bin, 0, 255))];
  return static_cast<int>(turn >= column_table.end[k + 1] ? k + 1 : k);
}

// Where on the tool's face a point is first touched.
struct FacePlace {
  float place = 0;  // mm, along the meridian (solid::EdgeProfile)
  float turn = 0;   // bearing over the whole turn, -2..2
};
// What a point on the face stands for: bearings, as FacePlace::turn.
struct FaceSpan {
  float from = 0, to = 0;
};

// The least and the greatest of some numbers; all zeros: of none.
struct Extremes {
  std::uint32_t below = 0, above = 0;  // complement of the least's rank, rank of the greatest
  static std::uint32_t rank(float value) {
    return static_cast<std::uint32_t>(ordered(value)) ^ 0x80000000u;
  }
  float least() const { return unordered(static_cast<std::int32_t>(~below ^ 0x80000000u)); }
  float most() const { return unordered(static_cast<std::int32_t>(above ^ 0x80000000u)); }
};

// One segment's gatherings. All zeros: nothing met.
struct SegmentTotals {
  static constexpr double volume_scale = 16777216.0;  // fixed point of voxel volumes
  std::int64_t volume = 0;                            // voxels * volume_scale
  std::uint64_t arc = 0;  // 64 bins of the bearing, -1..1 (plunges: -2..2)
  Extremes height, left, bearing;
  Extremes turn, back;  // of the whole turn, seen from ahead and from behind
};
using PackedColumns = std::array<std::uint32_t, bearing_columns>;  // PackedExtent; zeros: nothing

// The same while one tile works on it: plain numbers, flushed at the end of the motion in that
// tile.
struct LocalSegmentTotals {
  std::int64_t volume = 0;
  std::uint64_t arc = 0;
  float height_min = 1e30f, height_max = -1e30f, left_min = 1e30f, left_max = -1e30f;
  float bearing_min = 1e30f, bearing_max = -1e30f;
  float turn_min = 1e30f, turn_max = -1e30f, back_min = 1e30f, back_max = -1e30f;
  std::uint64_t columns = 0;  // those of extents that hold anything
  PackedColumns extents{};
  bool used = false;

  void add_face(const FacePlace& p, const FaceSpan& span) {
    turn_min = p.turn < turn_min ? p.turn : turn_min;
    turn_max = p.turn > turn_max ? p.turn : turn_max;
    const float back = p.turn > 0 ? p.turn - 2.f : p.turn + 2.f;
    back_min = back < back_min ? back : back_min;
    back_max = back > back_max ? back : back_max;
    const float steps = p.place * static_cast<float>(ColumnExtent::places_a_mm) + 0.5f;
    const float held = steps < 65534.f ? steps : 65534.f;
    // By way of the signed kind, which processors convert at once.
    const std::uint32_t packed = PackedExtent::of(
        static_cast<std::uint32_t>(static_cast<std::int32_t>(held > 1.f ? held : 1.f)));
    const int first = column_of(span.from), last = column_of(span.to);
    const int more = (last - first) & (bearing_columns - 1);
    columns |= std::rotl(~std::uint64_t{0} >> (bearing_columns - 1 - more), first);
    for (int k = first;; k = (k + 1) & (bearing_columns - 1)) {
      std::uint32_t& at = extents[static_cast<std::size_t>(k)];
      at = PackedExtent::joined(at, packed);
      if (k == last) break;
    }
  }
  // Whether the column of a place already holds it and so much to either side, mm.
  bool holds(const FacePlace& p, float away) const {
    const ColumnExtent e =
        PackedExtent::extent(extents[static_cast<std::size_t>(column_of(p.turn))]);
    const float a_mm = static_cast<float>(ColumnExtent::places_a_mm);
    return static_cast<float>(e.low) <= (p.place - away) * a_mm &&
           static_cast<float>(e.high) >= (p.place + away) * a_mm;
  }

  // height above the foot and left, mm; bearing: see bearing_of. Plunging: left is the radius.
  void add_point(float height, float left, float bearing, bool plunging) {
    height_min = height < height_min ? height : height_min;
    height_max = height > height_max ? height : height_max;
    const float right = plunging ? -left : left;
    left_min = right < left_min ? right : left_min;
    left_max = left > left_max ? left : left_max;
    bearing_min = bearing < bearing_min ? bearing : bearing_min;
    bearing_max = bearing > bearing_max ? bearing : bearing_max;
    const int bin = static_cast<int>((plunging ? bearing * 16.f : bearing * 32.f) + 32.f);
    arc |= std::uint64_t{1} << (bin < 0 ? 0 : bin > 63 ? 63 : bin);
  }
};

// The totals of many segments; several tiles add to them at once. Most of a long program cuts air,
// and a segment that meets nothing takes a byte.
class SegmentStore {
 public:
  // areas: whether columns are kept too.
  SegmentStore(std::size_t segments, bool areas);
  void add(std::size_t segment, const LocalSegmentTotals& some);
  // nullptr: it meets nothing. Not while others add.
  const SegmentTotals* at(std::size_t segment) const {
    return met_[segment] != 0 ? &totals_[segment] : nullptr;
  }
  // nullptr: not kept.
  const PackedColumns* columns_at(std::size_t segment) const {
    return extents_ ? &extents_[segment] : nullptr;
  }

 private:
  struct Free {
    void operator()(void* memory) const { std::free(memory); }
  };
  std::vector<std::uint8_t> met_;
  // From the system as zeros, whose pages cost nothing until they are written.
  template <class T>
  using Zeros = std::unique_ptr<T[], Free>;
  template <class T>
  static Zeros<T> zeros(std::size_t count);
  Zeros<SegmentTotals> totals_;
  Zeros<PackedColumns> extents_;
};

// Length of path a segment stands for: at most a quarter of the tool's radius.
int segment_count(double length, double radius);

// The finished sample. voxel: mm. What its columns hold, if they are kept, goes behind `extents`.
EngagementSample finish(const SegmentTotals& segment, const PackedColumns* columns, double voxel,
                        bool plunging, std::vector<ColumnExtent>& extents);

}  // namespace proveout::stock
