// What a motion meets, against the geometry of the cut: slots, side cuts, second passes, ball cuts.
// Known answers: slot width D and arc 180 deg; side cut of width ae: arc acos(1 - 2 ae / D) (Trent
// and Wright, Metal Cutting, Eq. 12.9). Tolerances at voxel = D / 30: axial depth 0.1 voxel + 0.1
// %, radial width 0.25 voxel, angles 2 degrees.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

constexpr double diameter = 6, radius = 3, voxel = diameter / 30;
const Vec3 block(60, 40, 14);
const double top = block.z();

struct Expected {
  double axial, width, from, to;
  // Where the cut shares a wall with an earlier one, or is thinner than a voxel, the corner between
  // them is blurred by the grid: these many voxels more (a skin: half a voxel on each side).
  double blur_voxels = 0;
};

// Samples in the middle of the second motion must all show what is expected.
void check(const std::vector<nc::Motion>& motions, const job::Tool& tool, const Expected& e,
           double angle, const Vec3& shift, const std::string& what) {
  std::vector<nc::Motion> placed;
  for (const auto& m : motions) placed.push_back(moved(m, angle, {30, 20, 0}, shift));
  const Cutting c = cut_box(block, voxel, tool, placed);
  const MotionOutcome& last = c.cut.motions.back();
  const double length = nc::length(placed.back());
  int seen = 0;
  for (std::uint32_t i = 0; i < last.sample_count; ++i) {
    const EngagementSample& s = c.cut.samples[last.first_sample + i];
    if (s.along < 0.35 * length || s.along > 0.65 * length) continue;
    ++seen;
    const std::string at =
        what + " angle " + std::to_string(angle) + " along " + std::to_string(s.along);
    EXPECT_NEAR(s.axial_depth, e.axial, (0.1 + e.blur_voxels) * voxel + 0.001 * e.axial) << at;
    EXPECT_NEAR(s.radial_width, e.width, (0.25 + e.blur_voxels) * voxel) << at;
    // At the rim the angle reads the width's blur magnified.
    const double blur = std::acos(1 - e.blur_voxels * voxel / radius) * 180 / pi;
    EXPECT_NEAR(s.arc_from, e.from, 2 + blur) << at;
    EXPECT_NEAR(s.arc_to, e.to, 2 + blur) << at;
    EXPECT_NEAR(s.arc, e.to - e.from, 4 + 2 * blur) << at;  // in one piece
  }
  EXPECT_GT(seen, 3) << what;
}

class Placements : public testing::Test {
 protected:
  void at_random_places(const std::vector<nc::Motion>& motions, const job::Tool& tool,
                        const Expected& e, const std::string& what, int count = 50) {
    std::mt19937 random(5);
    std::uniform_real_distribution<double> angle(0, 2 * pi), offset(-0.5, 0.5);
    for (int i = 0; i < count; ++i) {
      // By turns at any angle and square to the grid, where faces fall on voxel centres.
      const double a = i % 4 == 0 ? std::floor(angle(random)) * pi / 2 : angle(random);
      check(motions, tool, e, a, Vec3(offset(random), offset(random), 0), what);
      if (HasFailure()) return;
    }
  }
};

using EngagementTest = Placements;

TEST_F(EngagementTest, Slot) {
  at_random_places({line({20, 20, top - 2.3}, {40, 20, top - 2.3})},
                   tool_of(job::ToolShape::flat, diameter), {2.3, 6, -90, 90}, "slot");
}

TEST_F(EngagementTest, HalfWidthBesideASlotIsClimbOnTheRight) {
  // The second pass runs 3 mm to the right of the first, in the same direction: it meets only what
  // lies to its right, from straight ahead to -90.
  at_random_places({line({20, 21.5, top - 2}, {40, 21.5, top - 2}),
                    line({20, 18.5, top - 2}, {40, 18.5, top - 2})},
                   tool_of(job::ToolShape::flat, diameter), {2, 3, -90, 0}, "half right");
}

TEST_F(EngagementTest, QuarterWidthBesideASlotOnTheLeft) {
  // ae / D = 0.25: arc 60 degrees.
  at_random_places(
      {line({20, 18, top - 2}, {40, 18, top - 2}), line({20, 19.5, top - 2}, {40, 19.5, top - 2})},
      tool_of(job::ToolShape::flat, diameter), {2, 1.5, 30, 90}, "quarter left");
}

TEST_F(EngagementTest, SecondPassDeeperInTheSameSlot) {
  at_random_places(
      {line({20, 20, top - 2}, {40, 20, top - 2}), line({20, 20, top - 3.1}, {40, 20, top - 3.1})},
      tool_of(job::ToolShape::flat, diameter), {1.1, 6, -90, 90, 0.4}, "second pass");
}

TEST_F(EngagementTest, ThinSkinOfAFifthOfAVoxel) {
  at_random_places({line({20, 20, top - 2}, {40, 20, top - 2}),
                    line({20, 20, top - 2.04}, {40, 20, top - 2.04})},
                   tool_of(job::ToolShape::flat, diameter), {0.04, 6, -90, 90, 1}, "skin");
}

TEST_F(EngagementTest, BallInAFlat) {
  // Effective diameter 2 sqrt(ap (2R - ap)).
  const double ap = 0.6;
  at_random_places({line({20, 20, top - ap}, {40, 20, top - ap})},
                   tool_of(job::ToolShape::ball, diameter),
                   {ap, 2 * std::sqrt(ap * (2 * radius - ap)), -90, 90}, "ball");
}

// On a coarse grid the rows nearest the walls lie far apart as angles; the arc is still one piece.
TEST_F(EngagementTest, SlotOnCoarseGrids) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> shift(-0.5, 0.5), turn(0, 2 * pi);
  for (const double share : {30., 24., 20., 12.}) {
    for (int i = 0; i < 12; ++i) {
      const double angle = i % 2 == 0 ? 0 : turn(random);
      const Vec3 off(0, shift(random), 0);
      const Cutting c =
          cut_box(block, diameter / share, tool_of(job::ToolShape::flat, diameter),
                  {moved(line({20, 20, top - 2}, {40, 20, top - 2}), angle, {30, 20, 0}, off)});
      const MotionOutcome& m = c.cut.motions[0];
      const EngagementSample& s = c.cut.samples[m.first_sample + m.sample_count / 2];
      EXPECT_NEAR(s.arc, 180, 4) << "D / " << share << " angle " << angle << " off " << off.y();
    }
  }
}

// A slot along the middle of an earlier one of a third of its width meets two arcs, from 90 to
// asin(1/3) on both sides: 141.06 degrees, with air between.
TEST_F(EngagementTest, AirBetweenTwoArcsIsNotCounted) {
  const solid::ToolBody thin = solid::make_tool_body(tool_of(job::ToolShape::flat, diameter / 3)),
                        wide = solid::make_tool_body(tool_of(job::ToolShape::flat, diameter));
  for (const double angle : {0.0, 0.4, pi / 2}) {
    const std::vector<nc::Motion> motions = {
        moved(line({15, 20, top - 2}, {45, 20, top - 2}), angle, {30, 20, 0}, Vec3::Zero()),
        moved(line({20, 20, top - 2}, {40, 20, top - 2}), angle, {30, 20, 0}, Vec3::Zero())};
    const std::vector<ToolRun> uses = {{0, 1, &thin}, {1, 2, &wide}};
    Stock stock = Stock::box(block, voxel);
    const Cut cut = stock.cut(motions, uses, RigidMotion::Identity(), 1, {});
    const MotionOutcome& m = cut.motions[1];
    const EngagementSample& s = cut.samples[m.first_sample + m.sample_count / 2];
    EXPECT_NEAR(s.arc, 180 - 2 * std::asin(1.0 / 3) * 180 / pi, 6) << angle;
    EXPECT_NEAR(s.arc_to - s.arc_from, 180, 4) << angle;
  }
}

TEST_F(EngagementTest, ArcSlot) {
  at_random_places({arc({38, 20, top - 2}, {30, 20, top - 2}, pi)},
                   tool_of(job::ToolShape::flat, diameter), {2, 6, -90, 90}, "arc slot", 20);
}

TEST_F(EngagementTest, ShareOfThePathInMaterialIsTheVolume) {
  // Samples of one motion add up to the motion.
  const Cutting c = cut_box(block, voxel, tool_of(job::ToolShape::flat, diameter),
                            {line({10, 20, top - 2}, {50, 20, top - 2})});
  double sum = 0;
  for (const auto& s : c.cut.samples) sum += s.removed_mm3;
  EXPECT_NEAR(sum, c.cut.motions[0].removed_mm3, 1e-3);
}

TEST_F(EngagementTest, PlungeMeetsTheWholeCircle) {
  const Cutting c = cut_box(block, voxel, tool_of(job::ToolShape::flat, diameter),
                            {line({30, 20, top + 1}, {30, 20, top - 3})});
  ASSERT_GT(c.cut.samples.size(), 2u);
  const EngagementSample& s = c.cut.samples[c.cut.samples.size() / 2];
  EXPECT_NEAR(s.arc, 360, 1);
  EXPECT_NEAR(s.radial_width, diameter, 0.25 * voxel);
}

}  // namespace
}  // namespace proveout::stock
