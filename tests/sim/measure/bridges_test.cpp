// The smallest section of bridges between a part and the rest, against closed forms: bars of
// rectangular and round section at any angle, a neck, a skin, slots as they are milled.
#include "sim/measure/bridges.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>

#include "tests/sim/measure/box_mesh.h"
#include "tests/sim/measure/solids.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::measure {
namespace {

using stock::cut_box;
using stock::Cutting;
using stock::line;
using stock::tool_of;

// Part: a block that ends at x = 10; the rest: a wall from x = 22 on. Between them a bar.
constexpr double gap_from = 10, gap_to = 22;
const Vec3 part_low(0, 0, 0), part_high(gap_from, 20, 16);

std::vector<Bridge> bridges_with(const Solid& tie, double h) {
  const Solid all = together({box(part_low, part_high), box({gap_to, -4, -4}, {30, 24, 20}), tie});
  const stock::Stock stock = stock_of(all, Box3(Vec3(-2, -6, -6), Vec3(32, 26, 22)), h);
  return bridges(stock, solid::PartDistance(box_mesh(part_low, part_high)), 6);
}

TEST(Bridges, BarsAtOddAngles) {
  // Closed form: a bar's section square to its axis is wide x thick, or that of its circle. The
  // angles leave room in the gap for that section; turned about itself by any amount.
  std::mt19937 random(11);
  std::uniform_real_distribution<double> u(0, 1);
  double worst = 0, squares = 0;
  const int cases = 24;
  const double h = 0.2;
  for (int n = 0; n < cases; ++n) {
    const bool round = n % 3 == 2;
    const double tilt = 35 / deg_per_rad * u(random), about = 2 * pi * u(random);
    const Vec3 axis(std::cos(tilt), std::sin(tilt) * std::cos(about),
                    std::sin(tilt) * std::sin(about));
    const double wide = 1.5 + 3 * u(random), thick = round ? wide : 0.8 + 1.2 * u(random);
    const Vec3 through(16, 9 + 2 * u(random), 7 + 2 * u(random));
    const auto found = bridges_with(bar(through, axis, 2 * pi * u(random), wide, thick, round), h);
    const double exact = round ? pi / 4 * wide * wide : wide * thick;
    SCOPED_TRACE(
        fmt::format("seed 11 case {}: {} {:.4f} x {:.4f}, tilt {:.2f} deg about {:.2f} rad", n,
                    round ? "round" : "flat", wide, thick, tilt * deg_per_rad, about));
    ASSERT_EQ(found.size(), 1u);
    const double off = found[0].area_mm2 / exact - 1;
    worst = std::max(worst, std::abs(off));
    squares += off * off;
    EXPECT_NEAR(off, 0, 0.03);
    EXPECT_GT(std::abs(found[0].axis.dot(axis)), std::cos(6 / deg_per_rad));
    EXPECT_NEAR(found[0].thickness, round ? wide : std::min(wide, thick), 0.25 * h + 0.03 * thick);
  }
  RecordProperty("rms_percent", fmt::format("{:.3f}", 100 * std::sqrt(squares / cases)));
  RecordProperty("worst_percent", fmt::format("{:.3f}", 100 * worst));
  fmt::print("section of {} bars, voxel {}: rms {:.2f} %, worst {:.2f} %\n", cases, h,
             100 * std::sqrt(squares / cases), 100 * worst);
}

TEST(Bridges, TheNeckCounts) {
  // A bar 3 x 2 with a neck 1.2 x 2 in its middle: two boxes and a thinner one.
  const auto found =
      bridges_with(together({box({9, 8, 6}, {15, 11, 8}), box({14, 8.9, 6}, {18, 10.1, 8}),
                             box({17, 8, 6}, {23, 11, 8})}),
                   0.2);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_NEAR(found[0].area_mm2, 1.2 * 2, 0.03 * 2.4);
  EXPECT_NEAR(found[0].thickness, 1.2, 0.06);
  EXPECT_GT(found[0].at.x(), 15 - 0.2);
  EXPECT_LT(found[0].at.x(), 17 + 0.2);
}

TEST(Bridges, EachIsNamedAndALumpOnThePartIsNone) {
  const auto found =
      bridges_with(together({box({9, 3, 6}, {23, 5, 8}), box({9, 14, 6}, {23, 17, 8}),
                             box({9, 8, 4}, {13, 12, 12})}),  // stands 3 mm out and ends in air
                   0.2);
  ASSERT_EQ(found.size(), 2u);
  EXPECT_NEAR(found[0].area_mm2, 4, 0.1);
  EXPECT_NEAR(found[0].at.y(), 4, 0.1);
  EXPECT_NEAR(found[1].area_mm2, 6, 0.15);
  EXPECT_NEAR(found[1].at.y(), 15.5, 0.1);
}

TEST(Bridges, WhicheverWayTheyRun) {
  // The same block with its rest above it or behind it; a bar 3 x 2 between them.
  const Solid part = box(part_low, part_high);
  const Solid upwards =
      together({part, box({-4, -4, 28}, {14, 24, 32}), box({4, 9, 15}, {7, 11, 29})});
  const Solid behind =
      together({part, box({-4, 32, -4}, {14, 36, 20}), box({4, 19, 7}, {7, 33, 9})});
  const solid::PartDistance distance(box_mesh(part_low, part_high));
  const auto up =
      bridges(stock_of(upwards, Box3(Vec3(-6, -6, -2), Vec3(16, 26, 34)), 0.2), distance, 6);
  const auto back =
      bridges(stock_of(behind, Box3(Vec3(-6, -2, -6), Vec3(16, 38, 22)), 0.2), distance, 6);
  for (const auto& [found, axis] : {std::pair(up, 2), std::pair(back, 1)}) {
    ASSERT_EQ(found.size(), 1u) << axis;
    EXPECT_NEAR(found[0].area_mm2, 6, 0.03 * 6) << axis;
    EXPECT_NEAR(found[0].thickness, 2, 0.06) << axis;
    EXPECT_GT(std::abs(found[0].axis[axis]), std::cos(6 / deg_per_rad)) << axis;
  }
}

TEST(Bridges, TwoThatMeetAreMeasuredUpToThere) {
  // Two legs of 2 x 2 from the part into one web of 8 x 0.8, half of which would be less than a
  // leg.
  const auto found =
      bridges_with(together({box({9, 6, 6}, {13.5, 8, 8}), box({9, 12, 6}, {13.5, 14, 8}),
                             box({13, 6, 6.6}, {23, 14, 7.4})}),
                   0.2);
  ASSERT_EQ(found.size(), 2u);
  for (const Bridge& b : found) EXPECT_NEAR(b.area_mm2, 4, 0.03 * 4);
}

TEST(Bridges, AGapAsWideAsTheCutter) {
  // The everyday case: one pass round the part, so that the rest stands the cutter's diameter off.
  // Before that face the smeared edge dips below 0, all over the face.
  for (const double gap : {3.0, 4.0, 6.0}) {
    for (const double beyond : {0.0, 4.0}) {  // the rest's face is larger than the part's
      const double x = gap_from + gap;
      const Solid all = together({box(part_low, part_high),
                                  box({x, -beyond, -beyond}, {x + 3, 20 + beyond, 16 + beyond}),
                                  box({9, 8, 6}, {x + 1, 11, 8})});
      const auto found = bridges(stock_of(all, Box3(Vec3(-2, -6, -6), Vec3(x + 5, 26, 22)), 0.2),
                                 solid::PartDistance(box_mesh(part_low, part_high)), gap);
      ASSERT_EQ(found.size(), 1u) << gap;
      EXPECT_NEAR(found[0].area_mm2, 6, 0.03 * 6) << gap << " " << beyond;
      EXPECT_NEAR(found[0].thickness, 2, 0.06) << gap << " " << beyond;
    }
  }
}

TEST(Bridges, WhatIsLeftOnThePartDoesNotJoinThem) {
  // A tenth of a millimetre left all over the part: two bars stay two bridges.
  const Solid all = together({box(part_low, part_high), box({gap_to, -4, -4}, {30, 24, 20}),
                              box({9, 3, 6}, {23, 5, 8}), box({9, 14, 6}, {23, 17, 8})});
  const Vec3 allowance = Vec3::Constant(0.1);
  const auto found =
      bridges(stock_of(all, Box3(Vec3(-2, -6, -6), Vec3(32, 26, 22)), 0.2),
              solid::PartDistance(box_mesh(part_low + allowance, part_high - allowance)), 6);
  ASSERT_EQ(found.size(), 2u);
  EXPECT_NEAR(found[0].area_mm2, 4, 0.03 * 4);
  EXPECT_NEAR(found[1].area_mm2, 6, 0.03 * 6);
}

TEST(Bridges, NoneWhereThePartStandsFree) {
  EXPECT_TRUE(bridges_with(box({9, 8, 4}, {13, 12, 12}), 0.2).empty());
}

TEST(Bridges, WhatEndsAtTheBlanksEdgeIsAStub) {
  // A block cut round with a 6 mm cutter, 3 to 5.5 mm from the blank's edge: tabs were left, but
  // nothing they could lead to. All of the tab is what stands out: wide x thick x margin.
  for (const double margin : {3.0, 5.0, 5.5}) {
    for (const Vec3& size : {Vec3(0, 3, 2), Vec3(0, 12, 1.5), Vec3(0, 6, 6)}) {
      const Vec3 low(gap_from - 1, 4, 5), high(gap_from + margin, 4 + size.y(), 5 + size.z());
      const Solid all = together({box(part_low, part_high), box(low, high)});
      const auto found = bridges(stock_of(all, Box3(Vec3(-2, -6, -6), Vec3(32, 26, 22)), 0.2),
                                 solid::PartDistance(box_mesh(part_low, part_high)), 6);
      SCOPED_TRACE(fmt::format("margin {} tab {} x {}", margin, size.y(), size.z()));
      ASSERT_EQ(found.size(), 1u);
      EXPECT_NEAR(found[0].area_mm2, size.y() * size.z(), 0.04 * size.y() * size.z());
      EXPECT_NEAR(found[0].stub_mm3, margin * size.y() * size.z(),
                  0.2 * margin * size.y() * size.z());
    }
  }
}

TEST(Bridges, WhatLeadsToAFrameIsNoStub) {
  // A frame 1 mm wide all round, inside the cutter's width; a wall further out; and a slab.
  const Box3 room(Vec3(-8, -8, -6), Vec3(32, 30, 22));
  const Solid part = box(part_low, part_high);
  const Solid frame = together({box({9, 8, 6}, {14.5, 11, 8}), box({14, -5, 0}, {15, 25, 8}),
                                box({-5, -5, 0}, {-4, 25, 8}), box({-5, -5, 0}, {15, -4, 8}),
                                box({-5, 24, 0}, {15, 25, 8})});
  const Solid slab = together({box({9, 8, 6}, {14, 11, 8}), box({13, 0, 0}, {15, 20, 16})});
  const Solid wall = together({box({9, 8, 6}, {23, 11, 8}), box({gap_to, -4, -4}, {30, 24, 20})});
  const solid::PartDistance distance(box_mesh(part_low, part_high));
  for (const Solid& rest : {frame, slab, wall}) {
    const auto found = bridges(stock_of(together({part, rest}), room, 0.2), distance, 6);
    ASSERT_FALSE(found.empty());
    for (const Bridge& b : found) EXPECT_EQ(b.stub_mm3, 0);
  }
}

TEST(Bridges, ASkinRoundThePart) {
  // The part stands on a skin 0.4 thick that runs 6 mm to a frame on all sides: the least cut runs
  // round the part's foot, 2 (10 + 20) long and 0.4 deep. Sections at a constant distance d from
  // the part lie outside it: longer by at most 2 pi d at the corners.
  const double skin = 0.4;
  const Solid all =
      together({box(part_low, part_high), box({-12, -12, -skin}, {22, 32, 0}),
                box({-12, -12, -skin}, {-6, 32, 8}), box({16, -12, -skin}, {22, 32, 8}),
                box({-12, -12, -skin}, {22, -6, 8}), box({-12, 26, -skin}, {22, 32, 8})});
  const stock::Stock stock = stock_of(all, Box3(Vec3(-14, -14, -2), Vec3(24, 34, 18)), 0.2);
  const auto found = bridges(stock, solid::PartDistance(box_mesh(part_low, part_high)), 6);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_GT(found[0].area_mm2, 0.97 * 60 * skin);
  EXPECT_LT(found[0].area_mm2, 1.14 * 60 * skin);
  EXPECT_NEAR(found[0].thickness, skin, 0.04);
}

TEST(Bridges, AnUnevenSkinIsAsThinAsItsThinSide) {
  // As before, 0.8 thick but for one side of 20, a third of the way round, where it is 0.4.
  const double thin = 0.4, thick = 0.8;
  const Solid all =
      together({box(part_low, part_high), box({-12, -12, -thick}, {8, 32, 0}),
                box({7, -12, -thick}, {22, 0, 0}), box({7, 20, -thick}, {22, 32, 0}),
                box({-12, -12, -thin}, {22, 32, 0}), box({-12, -12, -thick}, {-6, 32, 8}),
                box({16, -12, -thick}, {22, 32, 8}), box({-12, -12, -thick}, {22, -6, 8}),
                box({-12, 26, -thick}, {22, 32, 8})});
  const stock::Stock stock = stock_of(all, Box3(Vec3(-14, -14, -2), Vec3(24, 34, 18)), 0.2);
  const auto found = bridges(stock, solid::PartDistance(box_mesh(part_low, part_high)), 6);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_NEAR(found[0].thickness, thin, 0.04);
}

TEST(Bridges, AMilledWallBetweenTwoSlots) {
  // Two slots along x leave a wall 4 wide; cut down to 3 high it ties the part (x < 8) to the rest
  // (x > 20, where the slots end); a third slot clears the part's side but for that wall.
  const Cutting c = cut_box({36, 26, 10}, 0.2, tool_of(job::ToolShape::flat, 6),
                            {line({11, -4, -1}, {11, 8, -1}), line({17, -4, -1}, {17, 8, -1}),
                             line({11, 18, -1}, {11, 30, -1}), line({17, 18, -1}, {17, 30, -1}),
                             line({11, -4, 3}, {11, 30, 3}), line({17, -4, 3}, {17, 30, 3}),
                             line({14, -4, -1}, {14, 8, -1}), line({14, 18, -1}, {14, 30, -1})});
  const auto found = bridges(c.stock, solid::PartDistance(box_mesh({0, 0, 0}, {8, 26, 10})), 6);
  // Slots reach y = 11 and y = 15 by their round ends: at the axes of the slots the wall is 4 wide.
  ASSERT_EQ(found.size(), 1u);
  EXPECT_NEAR(found[0].area_mm2, 4 * 3, 0.03 * 12);
  EXPECT_NEAR(found[0].thickness, 3, 0.06);
  EXPECT_GE(found[0].left_by, 1u);
}

TEST(Bridges, ErrorFallsWithTheVoxel) {
  const Vec3 axis = Vec3(1, 0.3, -0.2).normalized();
  double before = 1;
  for (double h : {0.4, 0.2, 0.1}) {
    const auto found = bridges_with(bar({16, 10, 8}, axis, 0.4, 3.1, 1.9, false), h);
    ASSERT_EQ(found.size(), 1u);
    const double off = std::abs(found[0].area_mm2 / (3.1 * 1.9) - 1);
    EXPECT_LT(off, std::max(0.002, before)) << h;
    before = off;
  }
}

}  // namespace
}  // namespace proveout::measure
