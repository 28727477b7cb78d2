// What each stretch of a motion meets, gathered from the voxels the motion changes.
//
// A changed voxel near the old surface stands for the surface point beside it, one near the tool for
// the point on the tool's surface: both lie in the material met, so extents are never overstated. Each
// point is given to the stretch in which the tool first touches it. All sums and extremes are
// integers, so they do not depend on the order in which tiles are done.
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

// One stretch's gatherings; several tiles add to it at once.
struct Stretch {
  static constexpr double volume_scale = 4294967296.0;  // fixed point of voxel volumes
  std::atomic<std::int64_t> volume{0};                  // voxels * volume_scale
  std::atomic<std::uint64_t> arc{0};                    // 64 bins over -90..90 deg (plunges: -180..180)
  std::atomic<std::int32_t> height_min{INT32_MAX}, height_max{INT32_MIN};  // ordered floats
  std::atomic<std::int32_t> left_min{INT32_MAX}, left_max{INT32_MIN};
  std::atomic<std::int32_t> angle_min{INT32_MAX}, angle_max{INT32_MIN};    // deg
};

// The same while one tile works on it: plain numbers, flushed at the end of the motion in that tile.
struct StretchLocal {
  std::int64_t volume = 0;
  std::uint64_t arc = 0;
  float height_min = 1e30f, height_max = -1e30f, left_min = 1e30f, left_max = -1e30f;
  float angle_min = 1e30f, angle_max = -1e30f;

  void add_point(const FirstTouch& touch);
  void flush(Stretch& into) const;
};

// Length of path a stretch stands for: at most a quarter of the tool's radius.
int stretch_count(double length, double radius);

// The finished sample. voxel: mm.
EngagementSample finish(const Stretch& stretch, double voxel, bool plunging);

}  // namespace proveout::stock
