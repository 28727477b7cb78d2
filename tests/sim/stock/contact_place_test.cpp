// Where a shank meets the stock, on blanks of up to 60,000 voxels along (the most a job may ask
// for), in every direction: the place is that of the motion, worked out by hand, however many
// voxels lie between it and the corner.
#include <gtest/gtest.h>

#include <random>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

// A fine needle: cuts `flute` deep, its shank is twice as wide and goes in above.
job::Tool needle(double diameter, double flute) {
  job::Tool t = tool_of(job::ToolShape::flat, diameter);
  t.flute_length = flute;
  t.stickout = 10 * flute;
  t.shank_diameter = 2 * diameter;
  return t;
}

// Plunges into a bar that is `long_side` mm along an axis, at `along` on it; where was it met?
MotionOutcome met_at(int axis, double long_side, double along, double voxel) {
  Vec3 size = Vec3::Constant(24 * voxel);
  size[axis] = long_side;
  Vec3 at = 0.5 * size;
  at[axis] = along;
  at.z() = size.z() - 10 * voxel;  // the shank's foot 4 voxels in, the rest above
  if (axis == 2) at.z() = std::min(at.z(), along);
  const Cutting done =
      cut_box(size, voxel, needle(6 * voxel, 6 * voxel), {line(at + Vec3(0, 0, 20 * voxel), at)});
  return done.cut.motions[0];
}

TEST(ContactPlace, FarFromTheCornerOfAFineGrid) {
  const double voxel = 0.002;
  for (const double along : {0.4, 30.0, 65.5, 69.6}) {
    const MotionOutcome out = met_at(0, 70, along, voxel);  // 35,000 voxels
    ASSERT_NE(out.contact & contact_shank, 0) << along;
    EXPECT_NEAR(out.contact_at.x(), along, 7 * voxel);  // the shank's radius and a voxel
    EXPECT_NEAR(out.contact_at.y(), 12 * voxel, 7 * voxel);
    EXPECT_GT(out.shank_depth, 2 * voxel);
  }
}

TEST(ContactPlace, AnywhereUpTo60000VoxelsAlong) {
  std::mt19937 random(7);
  const double voxel = 0.001;
  for (const int axis : {0, 1}) {
    std::uniform_real_distribution<double> place(0.05, 59.95);
    for (int k = 0; k < 3; ++k) {
      const double along = place(random);
      const MotionOutcome out = met_at(axis, 60, along, voxel);
      ASSERT_NE(out.contact & contact_shank, 0) << "seed 7, axis " << axis << " at " << along;
      EXPECT_NEAR(out.contact_at[axis], along, 7 * voxel)
          << "seed 7, axis " << axis << " at " << along;
    }
  }
}

// Deeper than 256 voxels a depth used to stay at 256.
TEST(ContactPlace, DepthOfAWideHolderInAFineGrid) {
  const double voxel = 0.02, radius = 8;
  job::Tool t = tool_of(job::ToolShape::flat, 2);
  t.flute_length = 2;
  t.stickout = 2;
  t.holder = {{2 * radius, 20}};
  const Vec3 block(20, 20, 12);
  const Cutting done = cut_box(block, voxel, t, {line({10, 10, 20}, {10, 10, 1})});
  // Foot at 3: 9 mm into the block. The flutes take the material within 1 mm of the axis, so the
  // deepest that is left lies there, 7 mm from the holder's side and at least as far from its foot.
  const MotionOutcome& out = done.cut.motions[0];
  EXPECT_NEAR(out.holder_depth, radius - 1, 2 * voxel);
}

}  // namespace
}  // namespace proveout::stock
