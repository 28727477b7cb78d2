// Side B against the part it should have cut: a block that lies off, or turned, must read as that.
// The part is the outline's own prism, written as a mesh; the shift is what was put in.
#include "sim/flip/best_fit.h"

#include <gtest/gtest.h>

#include "two_sides.h"

namespace proveout::flip {
namespace {

using two_sides::Sides;
using two_sides::Vec2;

Sides with_part() {
  Sides s;
  s.part_stl = two_sides::prism(s.outline);
  return s;
}

TEST(BestFit, IsNothingWhereNothingIsOff) {
  const run::JobResult r = two_sides::run(with_part());
  const BestFit& fit = r.flips.at(0).best_fit;
  ASSERT_TRUE(fit.found);
  EXPECT_NEAR(fit.x, 0, 0.01);
  EXPECT_NEAR(fit.y, 0, 0.01);
  EXPECT_NEAR(fit.turn_deg, 0, 0.02);
}

TEST(BestFit, GivesTheShiftThatWasPutIn) {
  Sides s = with_part();
  s.more_b = "locating_error = [0.15, -0.1, 0]\n";
  const BestFit fit = two_sides::run(s).flips.at(0).best_fit;
  ASSERT_TRUE(fit.found);
  EXPECT_NEAR(fit.x, -0.15, 0.01);
  EXPECT_NEAR(fit.y, 0.1, 0.01);
  EXPECT_NEAR(fit.turn_deg, 0, 0.02);
  EXPECT_LT(fit.left, 0.03);
}

TEST(BestFit, GivesTheTurnThatWasPutIn) {
  Sides s = with_part();
  s.warp_b = [](const Vec2& p) {
    return Vec2(Eigen::Rotation2Dd(0.4 / deg_per_rad) * p + Vec2(0.05, 0));
  };
  const BestFit fit = two_sides::run(s).flips.at(0).best_fit;
  ASSERT_TRUE(fit.found);
  EXPECT_NEAR(fit.turn_deg, 0.4, 0.03);
  EXPECT_NEAR(fit.x, 0.05, 0.02);
}

// The part tells a wrong turn apart even where the sides have no wall in common.
TEST(BestFit, ThePartTellsWhichWayTheBlankLies) {
  Sides s = with_part();
  s.depth_a = 5;
  s.depth_b = 8;
  const Flip right = two_sides::run(s).flips.at(0);
  EXPECT_EQ(right.told, Told::declared) << right.text;
  EXPECT_EQ(right.compared_mm, 0);
  s.turn = "{ about = \"x\", degrees = 180 }";
  const Flip wrong = two_sides::run(s).flips.at(0);
  EXPECT_EQ(wrong.told, Told::other) << wrong.text;
  EXPECT_EQ(wrong.placements.at(wrong.best_other).name, "turned about y");
}

}  // namespace
}  // namespace proveout::flip
