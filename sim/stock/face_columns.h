// The columns of bearing over which the tool's face is looked at, and what the points of one
// segment of a path span there: what kernels gather (kernel_faces.h).
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>

#include "sim/stock/stock.h"

namespace proveout::stock {

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

// What the points of one segment span; all as it begins: of none. Heights above the foot and left
// (of plunges the radius, to the left and to the right), mm; bearings: see bearing_of.
struct SegmentExtremes {
  std::uint64_t arc = 0;      // 64 bins of the bearing, -1..1 (plunges: -2..2)
  std::uint64_t columns = 0;  // those of extents that hold anything
  float height_min = 1e30f, height_max = -1e30f, left_min = 1e30f, left_max = -1e30f;
  float bearing_min = 1e30f, bearing_max = -1e30f;
  float turn_min = 1e30f, turn_max = -1e30f, back_min = 1e30f, back_max = -1e30f;
  alignas(64) std::array<std::uint32_t, bearing_columns> extents{};  // PackedExtent by column
};

// Points of one segment, one after another: where they lie and what they stand for on the face
// (columns first to first + more, round and round; extent: PackedExtent). turn and what follows:
// nullptr where columns are not asked for.
struct PointsOfSegment {
  const float *height, *left, *bearing, *turn;
  const std::int32_t *first, *more, *extent;
  int count = 0;
  bool plunging = false;
};

}  // namespace proveout::stock
