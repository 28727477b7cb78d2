// What the points of a segment span on the tool's face, gathered many at a time, held to a twin
// that takes them one by one, column by column.
#include "sim/stock/face_columns.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>
#include <vector>

#include "sim/stock/kernel.h"

namespace proveout::stock {
namespace {

struct Points {
  std::vector<float> height, left, bearing, turn;
  std::vector<std::int32_t> first, more, extent;
};

void one_by_one(SegmentExtremes& to, const Points& p, std::size_t i, bool plunging, bool areas) {
  const auto widen = [](float value, float& low, float& high) {
    low = std::min(low, value);
    high = std::max(high, value);
  };
  widen(p.height[i], to.height_min, to.height_max);
  to.left_min = std::min(to.left_min, plunging ? -p.left[i] : p.left[i]);
  to.left_max = std::max(to.left_max, p.left[i]);
  widen(p.bearing[i], to.bearing_min, to.bearing_max);
  const float bin = (p.bearing[i] / (plunging ? 2.f : 1.f) + 1.f) * 32.f;
  to.arc |= std::uint64_t{1} << static_cast<int>(std::clamp(bin, 0.f, 63.f));
  if (!areas) return;
  widen(p.turn[i], to.turn_min, to.turn_max);
  widen(p.turn[i] > 0 ? p.turn[i] - 2.f : p.turn[i] + 2.f, to.back_min, to.back_max);
  for (std::int32_t n = 0; n <= p.more[i]; ++n) {
    const auto k = static_cast<std::size_t>((p.first[i] + n) % bearing_columns);
    to.columns |= std::uint64_t{1} << k;
    to.extents[k] = PackedExtent::joined(to.extents[k], static_cast<std::uint32_t>(p.extent[i]));
  }
}

TEST(FaceColumns, PointsTogetherAreAsOneByOne) {
  std::mt19937 random(41);
  std::uniform_real_distribution<float> mm(-9, 9), one(-1, 1);
  std::uniform_int_distribution<int> column(0, bearing_columns - 1), few(0, 6), step(1, 65534),
      many(1, 45), kind(0, 3);
  for (int round = 0; round < 400; ++round) {
    const bool plunging = round % 3 == 0, areas = round % 5 != 4;
    const auto count = static_cast<std::size_t>(many(random));
    Points p;
    for (std::size_t i = 0; i < count + kernel_lanes; ++i) {  // kernels read on to whole registers
      p.height.push_back(mm(random));
      p.left.push_back(plunging ? std::abs(mm(random)) : mm(random));
      p.bearing.push_back((plunging ? 2.f : 1.f) * one(random));
      p.turn.push_back(2 * one(random));
      p.first.push_back(column(random));
      p.more.push_back(kind(random) == 0 ? column(random) : few(random));  // round and round too
      p.extent.push_back(
          static_cast<std::int32_t>(PackedExtent::of(static_cast<std::uint32_t>(step(random)))));
    }
    SegmentExtremes twin, begun;  // the second half is joined to what the first gave
    const std::size_t half = count / 2;
    for (std::size_t i = 0; i < count; ++i) one_by_one(twin, p, i, plunging, areas);
    for (const Kernels* set : {&kernels(), &base_kernels()}) {
      SegmentExtremes together = begun;
      for (const auto& [from, to] : {std::pair{std::size_t{0}, half}, {half, count}}) {
        set->gather(
            {p.height.data() + from, p.left.data() + from, p.bearing.data() + from,
             areas ? p.turn.data() + from : nullptr, p.first.data() + from, p.more.data() + from,
             p.extent.data() + from, static_cast<int>(to - from), plunging},
            together);
      }
      SCOPED_TRACE(
          fmt::format("seed 41, round {}, {} points, {}", round, count, set->instruction_set));
      EXPECT_EQ(together.arc, twin.arc);
      EXPECT_EQ(together.columns, twin.columns);
      EXPECT_EQ(together.extents, twin.extents);
      EXPECT_EQ(together.height_min, twin.height_min);
      EXPECT_EQ(together.height_max, twin.height_max);
      EXPECT_EQ(together.left_min, twin.left_min);
      EXPECT_EQ(together.left_max, twin.left_max);
      EXPECT_EQ(together.bearing_min, twin.bearing_min);
      EXPECT_EQ(together.bearing_max, twin.bearing_max);
      EXPECT_EQ(together.turn_min, twin.turn_min);
      EXPECT_EQ(together.turn_max, twin.turn_max);
      EXPECT_EQ(together.back_min, twin.back_min);
      EXPECT_EQ(together.back_max, twin.back_max);
    }
  }
}

// A point on a flat end that is fed stands for half a voxel to either side on its circle, and for
// all round where the end plunges and it lies at the axis; its place is its distance from the axis.
TEST(FaceColumns, APointStandsForAVoxelOfTheFace) {
  Profile flat;
  flat.core = flat.largest_radius = 3;
  flat.top = 20;
  const double voxel = 0.2;
  std::mt19937 random(43);
  std::uniform_real_distribution<float> across(-2.9f, 2.9f), forward(0.05f, 2.9f);
  const std::size_t count = 400, room = count + kernel_lanes;
  std::vector<float> height(room, 0.f), left(room), ahead(room), place(room), turn(room);
  std::vector<std::int32_t> first(room), more(room), extent(room);
  for (std::size_t i = 0; i < room; ++i) {
    do {
      left[i] = across(random);
      ahead[i] = forward(random);
    } while (std::hypot(left[i], ahead[i]) > 2.9);
  }
  const std::vector<float> forwards = ahead;
  for (const Kernels* set : {&kernels(), &base_kernels()}) {
    SCOPED_TRACE(set->instruction_set);
    const auto look = [&](bool plunging) {
      set->faces(flat, {plunging, plunging, static_cast<float>(voxel)}, static_cast<int>(count),
                 {height.data(), left.data(), ahead.data(), place.data(), turn.data(), first.data(),
                  more.data(), extent.data()});
    };
    ahead = forwards;
    look(false);
    for (std::size_t i = 0; i < count; ++i) {
      const double rho = std::hypot(double(left[i]), double(ahead[i]));
      const auto column = [&](double by) {  // in columns, 0 behind the axis
        const double sine = std::clamp((left[i] + by) / rho, -1.0, 1.0);
        return (std::asin(sine) * 180 / 3.14159265358979 + 180) / column_deg;
      };
      const double from = column(-voxel / 2), to = column(voxel / 2);
      SCOPED_TRACE(
          fmt::format("seed 43, point {}: {} to the left, {} ahead", i, left[i], ahead[i]));
      if (std::abs(from - std::round(from)) < 1e-3 || std::abs(to - std::round(to)) < 1e-3)
        continue;  // at a column's end
      EXPECT_EQ(first[i], static_cast<int>(from));
      EXPECT_EQ(first[i] + more[i], static_cast<int>(to));
      const ColumnExtent e = PackedExtent::extent(static_cast<std::uint32_t>(extent[i]));
      EXPECT_EQ(e.low, e.high);
      EXPECT_NEAR(e.low, rho * ColumnExtent::places_a_mm, 1);
    }
    std::vector<float> at_axis(room, 0.01f);
    std::swap(left, at_axis);
    ahead.assign(room, 0.01f);
    look(true);
    for (std::size_t i = 0; i < count; ++i) EXPECT_EQ(more[i], bearing_columns - 1);
    std::swap(left, at_axis);
  }
}

// A column holds equal angles: one of 64 of the whole turn, whichever way round it is told.
TEST(FaceColumns, ABearingsColumnIsThatOfItsAngle) {
  for (int tenth = -1799; tenth < 1800; ++tenth) {
    const double deg = 0.1 * tenth, a = deg * 3.14159265358979 / 180;
    const double l = std::abs(std::sin(a)), c = std::cos(a);
    const double size = c >= 0 ? l / (l + c) : 2 - l / (l - c);
    const double column = (deg + 180) / column_deg;
    if (std::abs(column - std::round(column)) < 1e-4) continue;  // at an end
    const auto turn = static_cast<float>(std::copysign(size, deg));
    EXPECT_EQ(column_of(turn), static_cast<int>(column)) << deg;
    EXPECT_EQ(column_of(turn > 0 ? turn - 4.f : turn + 4.f), static_cast<int>(column)) << deg;
  }
}

}  // namespace
}  // namespace proveout::stock
