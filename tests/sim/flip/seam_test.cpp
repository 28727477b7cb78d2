// The step at the seam for errors whose effect is known in closed form: a block turned about y on a
// zero that lies e off the turning line is cut 2 e apart; a block that lies e off its zero, e
// apart; a machine out of square by s shears the two sides 2 s y apart, for the turn reverses the
// lean.
#include <gtest/gtest.h>

#include "two_sides.h"

namespace proveout::flip {
namespace {

using two_sides::Sides;
using two_sides::Vec2;

// Each wall's place is good to a twentieth of a voxel: two of them, 0.25 mm each.
constexpr double good = 0.025;

Seam seam_of(const run::JobResult& r) {
  EXPECT_EQ(r.flips.size(), 1u);
  EXPECT_FALSE(r.flips.at(0).seam.points.empty());
  return r.flips.at(0).seam;
}

// Of the points on the wall that faces along x: the step expected from where they lie.
template <class Expected>
void expect_steps(const Seam& seam, Expected expected) {
  int looked_at = 0;
  for (const SeamPoint& p : seam.points) {
    if (std::abs(p.outward.x()) < 0.999) continue;
    ++looked_at;
    EXPECT_NEAR(p.step, p.outward.x() * expected(p.at.y() - 20), good) << p.at.transpose();
  }
  EXPECT_GT(looked_at, 20);
}

TEST(Seam, IsFlushWhereNothingIsOff) {
  const run::JobResult r = two_sides::run({});
  const Seam& s = seam_of(r);
  EXPECT_LT(s.worst, good);
  // Both walls of the slot are cut from both sides: 40 + 24 + 32 + 16 + 11.3 inside; outside 46.0
  // more, 2 x 6 tan(half the turn) at each corner, less 4.1 where the tool's radius rounds them.
  EXPECT_NEAR(s.length_mm, 123.3 + 165.2, 0.08 * 288.5);
  // Cut 11 from above and 9.5 from below of 20.
  EXPECT_NEAR(s.least_overlap, 0.5, 0.02);
  EXPECT_EQ(s.web_mm, 0);
  for (const SeamPoint& p : s.points) {
    EXPECT_NEAR(p.at.z(), 9, 0.8);
    EXPECT_EQ(r.origin(p.by)->setup, 1u);
    EXPECT_EQ(r.origin(p.by_earlier)->setup, 0u);
  }
}

TEST(Seam, ZeroOffTheTurningLineCountsTwice) {
  const double e = 0.06;
  Sides s;
  s.zero = "zero = { x = \"centre\", y = \"centre\", z = \"top\", offset = [0.06, 0, 0] }\n";
  const run::JobResult r = two_sides::run(s);
  const Seam& seam = seam_of(r);
  // Side A lies e to the right in stock coordinates, side B as much to the left.
  expect_steps(seam, [&](double) { return -2 * e; });
  EXPECT_NEAR(seam.proudest, 2 * e, 0.035);
  EXPECT_NEAR(seam.deepest, -2 * e, 0.035);
  // On the machine, turned about y, that is to the right for side B.
  EXPECT_NEAR(seam.reading.x, 2 * e, 0.01);
  EXPECT_NEAR(seam.reading.y, 0, 0.01);
  EXPECT_LT(seam.reading.left, 0.015);
}

TEST(Seam, ZeroOffAlongTheTurningLineCancels) {
  Sides s;
  s.zero = "zero = { x = \"centre\", y = \"centre\", z = \"top\", offset = [0, 0.2, 0] }\n";
  EXPECT_LT(seam_of(two_sides::run(s)).worst, good);
}

TEST(Seam, BlockThatLiesOffItsZeroCountsOnce) {
  Sides s;
  s.more_b = "locating_error = [0.15, -0.1, 0]\n";
  const run::JobResult r = two_sides::run(s);
  const Seam& seam = seam_of(r);
  // The work lies 0.15 to the right of where it should: the cut lies as much to the left of it.
  expect_steps(seam, [&](double) { return 0.15; });
  EXPECT_NEAR(seam.reading.x, -0.15, 0.01);
  EXPECT_NEAR(seam.reading.y, 0.1, 0.01);
  EXPECT_NEAR(seam.reading.turn_deg, 0, 0.02);
  // The worst step stands on a wall that faces the shift, and names a line of side B that made it:
  // within the tool's radius of the wall.
  const SeamPoint& worst = seam.points[seam.worst_point];
  const auto origin = r.origin(worst.by);
  ASSERT_TRUE(origin);
  EXPECT_EQ(origin->setup, 1u);
  const nc::Motion& m = r.setups[1].source->motions[origin->motion];
  const Vec3 there = r.setups[1].stock_from_setup.inverse() * worst.at;
  Box3 box = nc::bounds(m);
  box.min().z() = box.max().z() = there.z();
  EXPECT_LT(box.exteriorDistance(there), 3 + 0.2);
}

TEST(Seam, OutOfSquareShearsTwice) {
  const double lean = 0.005;
  Sides s;
  s.warp_a = s.warp_b = [&](const Vec2& p) { return Vec2(p.x() + lean * p.y(), p.y()); };
  const run::JobResult r = two_sides::run(s);
  const Seam& seam = seam_of(r);
  expect_steps(seam, [&](double y) { return -2 * lean * y; });
  EXPECT_NEAR(seam.reading.out_of_square_100, 200 * lean, 0.1);
  EXPECT_NEAR(seam.reading.turn_deg, 0, 0.05);
}

TEST(Seam, TurnedBlockReadsAsATurn) {
  const double angle = 0.3 / deg_per_rad;
  Sides s;
  s.warp_b = [&](const Vec2& p) { return Vec2(Eigen::Rotation2Dd(angle) * p); };
  const run::JobResult r = two_sides::run(s);
  const Seam& seam = seam_of(r);
  EXPECT_NEAR(seam.reading.turn_deg, 0.3, 0.03);
  EXPECT_NEAR(seam.reading.out_of_square_100, 0, 0.1);
}

TEST(Seam, WebThatNeitherSideCuts) {
  Sides s;
  s.depth_b = 8.6;
  const run::JobResult r = two_sides::run(s);
  const Seam& seam = seam_of(r);
  EXPECT_NEAR(seam.least_overlap, -0.4, 0.02);
  EXPECT_NEAR(seam.web_mm, seam.length_mm, 1e-6);
  EXPECT_LT(seam.worst, good);
}

// Sides that miss each other by more than 0.25 mm are warned of, and by how much; less is not.
TEST(Seam, AStepBeyondTheLimitIsAFinding) {
  const auto steps = [](const char* error) {
    Sides s;
    s.more_b = error;
    const run::JobResult r = two_sides::run(s);
    std::vector<double> values;
    for (const Finding& f : r.findings) {
      if (f.kind == FindingKind::flip_mismatch && f.detail == "step") values.push_back(f.value);
    }
    return values;
  };
  EXPECT_TRUE(steps("locating_error = [0.15, 0, 0]\n").empty());
  const std::vector<double> off = steps("locating_error = [0.4, -0.3, 0]\n");
  ASSERT_EQ(off.size(), 1u);
  EXPECT_NEAR(off[0], 0.5, 0.03);
}

// Side B cuts the sloping wall 1 / sqrt(2) mm further out and all others as they are: the seam's
// worst step. Where that wall is declared a support it says nothing of how the sides meet.
TEST(Seam, WallsOfSupportsAreNoPartOfIt) {
  Sides s;
  s.part_stl = two_sides::prism(s.outline);
  // The slope's two ends each slide out along the wall beyond it.
  s.warp_b = [](const Vec2& p) {
    if (p.y() < 0 || p.x() > -5) return p;
    return p.x() < -20 ? Vec2(p.x(), p.y() + 1) : Vec2(p.x() - 1, p.y());
  };
  EXPECT_NEAR(seam_of(two_sides::run(s)).worst, std::sqrt(0.5), 2 * good);
  s.supports = "[[part.supports]]\nbox = [[41, 23, 0], [51, 33, 20]]\n";
  const run::JobResult held = two_sides::run(s);
  EXPECT_LT(seam_of(held).worst, 2 * good);
  for (const SeamPoint& p : seam_of(held).points)
    EXPECT_FALSE(p.at.x() > 43 && p.at.y() > 25) << p.at.transpose();
}

}  // namespace
}  // namespace proveout::flip
