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

#include "sim/stock/face_columns.h"
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

// Where on the tool's face a point is first touched.
struct FacePlace {
  float place = 0;  // mm, along the meridian (solid::EdgeProfile)
  float turn = 0;   // bearing over the whole turn, -2..2
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
struct LocalSegmentTotals : SegmentExtremes {
  std::int64_t volume = 0;
  bool used = false;

  // Whether the column of a place already holds it and so much to either side, mm.
  bool holds(const FacePlace& p, float away) const {
    const ColumnExtent e =
        PackedExtent::extent(extents[static_cast<std::size_t>(column_of(p.turn))]);
    const float a_mm = static_cast<float>(ColumnExtent::places_a_mm);
    return static_cast<float>(e.low) <= (p.place - away) * a_mm &&
           static_cast<float>(e.high) >= (p.place + away) * a_mm;
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
