// Errors and what they make of the seam: closed forms of the trade (a zero off the turning line
// counts twice across it and not at all along it; out of square s shears 2 s y; pins with clearance
// c on a distance d shift c / 2 and turn c / d), distributions known by hand, and a block cut anew.
#include "sim/flip/spread.h"

#include <gtest/gtest.h>

#include "two_sides.h"

namespace proveout::flip {
namespace {

// A seam of flush points, each with where it faces; the later setup turned about y.
struct Case {
  job::Setup earlier, later;
  Seam seam;
  measure::HeightMap left, reached;
  RigidMotion plan_from_later = RigidMotion::Identity();

  Case() {
    earlier.name = "A";
    later.name = "B";
    earlier.zero.z = later.zero.z = job::ZeroEdge::max;
    plan_from_later.linear() = Vec3(-1, 1, -1).asDiagonal();
    later.errors.emplace();
  }
  void point(const Vec2& place, const Vec2& outward) {
    SeamPoint p;
    p.place = place;
    p.outward = outward;
    seam.points.push_back(p);
  }
  // 20 x 20 mm with its top at 0, cut from neither side.
  void uncut_block() {
    left.cell = 0.5;
    left.columns = left.rows = 40;
    left.height.assign(1600, 0.0f);
    reached = left;
    std::fill(reached.height.begin(), reached.height.end(), -1e9f);
  }
  Spread result(int draws = 2000, std::uint64_t seed = 1) const {
    return spread(
        {earlier, later, plan_from_later, Vec2::Zero(), seam, left, reached, draws, seed});
  }
};

const Alone& last(const Spread& s) { return s.each.back(); }

TEST(Spread, ATenthInXMakesATenthOfStepOrTwoOnPins) {
  Case c;
  c.point({20, 0}, {1, 0});
  c.point({0, 12}, {0, 1});
  c.later.errors.reset();
  const Spread single = c.result();
  ASSERT_EQ(single.each.size(), 2u);
  EXPECT_NEAR(single.each[0].step, 0.1, 1e-12);
  EXPECT_NEAR(single.each[1].step, 0.1, 1e-12);
  EXPECT_EQ(single.draws, 0);
  c.later.located_by = job::LocatedBy::pins;
  const Spread pins = c.result();
  EXPECT_NEAR(pins.each[0].step, 0.2, 1e-12);  // 2 e across the turning line
  EXPECT_NEAR(pins.each[1].step, 0, 1e-12);    // along it the two sides move together
}

// A machine out of square by 0.1 mm over 200 mm misses by 0.1 mm at y = 100.
TEST(Spread, OutOfSquareShearsTwice) {
  Case c;
  c.point({20, 100}, {1, 0});
  c.later.errors->squareness = 0.05;
  EXPECT_NEAR(last(c.result()).step, 0.1, 1e-12);
}

// Clearance 0.05: a turn of 0.05 over the pins' distance, seen 100 mm away.
TEST(Spread, PinClearance) {
  for (const auto& [distance, expected] : {std::pair{80.0, 0.0625}, std::pair{150.0, 0.1 / 3}}) {
    Case c;
    c.point({100, 0}, {0, 1});
    c.later.errors->pin_clearance = 0.05;
    c.later.errors->pin_distance = distance;
    EXPECT_NEAR(last(c.result()).step, expected, 1e-12);
  }
  Case c;
  c.point({0, 0}, {1, 0});
  c.later.errors->pin_clearance = 0.05;
  c.later.errors->pin_distance = 80;
  EXPECT_NEAR(last(c.result()).step, 0.025, 1e-12);  // half the clearance
}

// One zero, even within 0.2: the step's size is even from 0 to 0.2, so its median is 0.1 and 95 %
// lie below 0.19. Of n draws a share p is met to sqrt(p (1 - p) / n): five of those.
TEST(Spread, OneErrorHasItsOwnDistribution) {
  Case c;
  c.point({20, 0}, {1, 0});
  c.later.errors->zero = Vec3(0.2, 0, 0);
  const int n = 2000;
  const Spread s = c.result(n);
  EXPECT_EQ(s.draws, n);
  EXPECT_NEAR(s.median_worst, 0.1, 5 * std::sqrt(0.25 / n) * 0.2);
  EXPECT_NEAR(s.high_worst, 0.19, 5 * std::sqrt(0.0475 / n) * 0.2);
  EXPECT_FALSE(s.has_web);
  EXPECT_EQ(c.result(n).high_worst, s.high_worst);
  EXPECT_NE(c.result(n, 2).high_worst, s.high_worst);
}

// Two zeros, each even within 0.1, of setups that each find their own: the sum is a triangle over
// -0.2..0.2, its size is below t with probability 1 - (1 - t / 0.2)^2.
TEST(Spread, ErrorsOfTwoSetupsAdd) {
  Case c;
  c.point({20, 0}, {1, 0});
  c.earlier.errors.emplace();
  c.earlier.errors->zero = c.later.errors->zero = Vec3(0.1, 0, 0);
  const Spread s = c.result(4000);
  EXPECT_NEAR(s.median_worst, 0.2 * (1 - std::sqrt(0.5)), 0.006);
  EXPECT_NEAR(s.high_worst, 0.2 * (1 - std::sqrt(0.05)), 0.006);
  // A zero on the milled block follows side A, wherever it lies.
  c.later.zero.on = job::ZeroOn::milled;
  EXPECT_NEAR(c.result(4000).high_worst, 0.095, 0.003);
}

// A web of 0.3 mm with the blank's thickness even within 0.6 either way: cut through in a quarter
// of draws, and in 95 % thicker than 0.3 - 0.54.
TEST(Spread, ThinWebIsCutThroughAsOftenAsItShould) {
  Case c;
  c.point({20, 0}, {1, 0});
  c.uncut_block();
  for (int j = 10; j < 30; ++j) {
    for (int i = 10; i < 30; ++i) {
      c.left.at(i, j) = -5.0f;
      c.reached.at(i, j) = -5.3f;
    }
  }
  c.later.errors->thickness = 0.6;
  const Spread s = c.result();
  ASSERT_TRUE(s.has_web);
  EXPECT_NEAR(s.least_web, 0.3, 1e-5);
  EXPECT_NEAR(s.break_through, 0.25, 5 * std::sqrt(0.1875 / s.draws));
  EXPECT_NEAR(s.low_web, -0.24, 0.03);
  // Heights from one and the same face of the blank do not feel its thickness.
  c.later.zero.z = job::ZeroEdge::min;
  EXPECT_EQ(c.result().draws, 0);
}

// A wall of 3 mm between a pocket of the earlier side and one of the later, 4 mm of them beside
// each other: an error in x even within 4 mm either way cuts through in (4 - 3) / 8 of draws, in 95
// % it leaves more than 3 - 3.6; one in y leaves it alone.
TEST(Spread, AWallBetweenTwoPocketsIsCutThroughSideways) {
  Case c;
  c.point({20, 0}, {1, 0});
  c.uncut_block();
  for (int j = 10; j < 30; ++j) {
    for (int i = 5; i < 10; ++i) c.left.at(i, j) = -8.0f;
    for (int i = 16; i < 21; ++i) c.reached.at(i, j) = -4.0f;
  }
  c.later.errors->zero = Vec3(4, 0, 0);
  const Spread s = c.result();
  ASSERT_TRUE(s.has_web);
  EXPECT_NEAR(s.least_web, 3, 1e-5);
  EXPECT_NEAR(s.break_through, 0.125, 5 * std::sqrt(0.11 / s.draws));
  EXPECT_NEAR(s.low_web, -0.6, 0.15);
  c.later.errors->zero = Vec3(0, 4, 0);
  EXPECT_NEAR(c.result().low_web, 3, 1e-5);
  // Pockets that end over one another have no wall between them.
  for (float& h : c.reached.height) h = std::min(h, -9.0f);
  EXPECT_FALSE(c.result().has_web);
}

// The second way: the block cut anew where it lies. What one error alone is said to make is the
// step that a block misplaced by it gets, and the draws stay below it.
TEST(Spread, AgreesWithABlockThatIsCutAnew) {
  two_sides::Sides said, done;
  said.more_b = "errors = { zero = [0.15, 0, 0] }\n";
  done.more_b = "locating_error = [0.15, 0, 0]\n";
  const run::JobResult said_run = two_sides::run(said), done_run = two_sides::run(done);
  const Flip &a = said_run.flips.at(0), &b = done_run.flips.at(0);
  EXPECT_EQ(a.spread.each.at(0).what, "0.1 mm in x");
  EXPECT_NEAR(a.spread.each[0].step, 0.1, 1e-6);
  EXPECT_NEAR(last(a.spread).step, 0.15, 1e-6);
  EXPECT_NEAR(b.seam.proudest, last(a.spread).step, 0.035);
  EXPECT_NEAR(b.seam.deepest, -last(a.spread).step, 0.035);
  EXPECT_GT(a.spread.high_worst, 0.95 * 0.95 * 0.15 - 0.025);
  EXPECT_LT(a.spread.high_worst, 0.15 + 0.025);
  EXPECT_EQ(b.spread.draws, 0);
}

}  // namespace
}  // namespace proveout::flip
