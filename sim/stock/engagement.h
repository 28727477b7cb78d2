// What each segment of a motion meets, gathered from points in the material it takes
// (engagement_sampler.h). All sums and extremes are integers, so they do not depend on the order in
// which tiles are done.
#pragma once

#include <atomic>
#include <bit>
#include <cstdint>
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

inline void raise(std::atomic<std::int32_t>& most, std::int32_t value) {
  std::int32_t seen = most.load(std::memory_order_relaxed);
  while (value > seen && !most.compare_exchange_weak(seen, value, std::memory_order_relaxed)) {
  }
}
inline void lower(std::atomic<std::int32_t>& least, std::int32_t value) {
  std::int32_t seen = least.load(std::memory_order_relaxed);
  while (value < seen && !least.compare_exchange_weak(seen, value, std::memory_order_relaxed)) {
  }
}

// One segment's gatherings; several tiles add to it at once.
struct SegmentTotals {
  static constexpr double volume_scale = 16777216.0;  // fixed point of voxel volumes
  std::atomic<std::int64_t> volume{0};                // voxels * volume_scale
  std::atomic<std::uint64_t> arc{0};  // 64 bins of the bearing, -1..1 (plunges: -2..2)
  std::atomic<std::int32_t> height_min{INT32_MAX}, height_max{INT32_MIN};  // ordered floats
  std::atomic<std::int32_t> left_min{INT32_MAX}, left_max{INT32_MIN};
  std::atomic<std::int32_t> bearing_min{INT32_MAX}, bearing_max{INT32_MIN};
};

// The same while one tile works on it: plain numbers, flushed at the end of the motion in that
// tile.
struct LocalSegmentTotals {
  std::int64_t volume = 0;
  std::uint64_t arc = 0;
  float height_min = 1e30f, height_max = -1e30f, left_min = 1e30f, left_max = -1e30f;
  float bearing_min = 1e30f, bearing_max = -1e30f;
  bool used = false;

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
  void flush(SegmentTotals& into) const;
};

// Length of path a segment stands for: at most a quarter of the tool's radius.
int segment_count(double length, double radius);

// The finished sample. voxel: mm.
EngagementSample finish(const SegmentTotals& segment, double voxel, bool plunging);

}  // namespace proveout::stock
