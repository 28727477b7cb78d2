// The steps of a motion near a box, against a walk over all of them.
#include "parser/nc/motion.h"

#include <gtest/gtest.h>

#include <random>

namespace proveout::nc {
namespace {

TEST(Motion, StepsWithinABox) {
  std::mt19937 random(1);
  const auto draw = [&](double a, double b) {
    return std::uniform_real_distribution<double>(a, b)(random);
  };
  int near = 0, none = 0;
  for (int round = 0; round < 2000; ++round) {
    Motion m;
    m.kind = PathKind::line;
    m.start = Vec3(draw(-20, 20), draw(-20, 20), draw(-20, 20));
    m.end = Vec3(draw(-20, 20), draw(-20, 20), draw(-20, 20));
    if (round % 3 == 0) m.end.x() = m.start.x();
    if (round % 5 == 0) m.end.z() = m.start.z();
    Box3 box(Vec3(draw(-9, 0), draw(-9, 0), draw(-9, 0)));
    box.extend(Vec3(draw(0, 9), draw(0, 9), draw(0, 9)));
    const int steps = 1 + round % 40;
    const StepRange range = steps_within(m, steps, box);
    int inside = 0;
    for (int k = 0; k <= steps; ++k) {
      if (!box.contains(point_at(m, double(k) / steps))) continue;
      ++inside;
      EXPECT_LE(range.first, k) << "round " << round;
      EXPECT_GE(range.last, k) << "round " << round;
    }
    EXPECT_LE(range.last - range.first + 1, inside + 5) << "round " << round;
    ++(inside > 0 ? near : none);
  }
  EXPECT_GT(near, 200);
  EXPECT_GT(none, 200);
  // Of a kilometre in steps of a micrometre down onto a block, those in the block and some more.
  Motion down;
  down.start = Vec3(0, 0, 1e6);
  const StepRange last = steps_within(down, 1'000'000'000, Box3(Vec3(-1, -1, -1), Vec3(1, 1, 1)));
  EXPECT_EQ(last.last, 1'000'000'000);
  EXPECT_NEAR(last.first, 1'000'000'000 - 1000, 3);
}

// An arc counts whole where its box meets the other, and not at all where it does not.
TEST(Motion, ArcsCountWhole) {
  Motion m;
  m.kind = PathKind::arc;
  m.start = Vec3(10, 0, 0);
  m.end = Vec3(-10, 0, 0);
  m.sweep = pi;
  const auto within = [&](const Vec3& low, const Vec3& high) {
    return steps_within(m, 100, Box3(low, high));
  };
  EXPECT_EQ(within(Vec3(-1, 9, -1), Vec3(1, 11, 1)).first, 0);
  EXPECT_EQ(within(Vec3(-1, 9, -1), Vec3(1, 11, 1)).last, 100);
  EXPECT_LT(within(Vec3(-1, -11, -1), Vec3(1, -9, 1)).last, 0);
  EXPECT_LT(steps_within(m, 100, Box3()).last, 0);
}

}  // namespace
}  // namespace proveout::nc
