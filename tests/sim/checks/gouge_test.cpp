// The part is the block up to z = 17: a slot 3.5 deep cuts 0.5 into it, one 2 deep does not.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small slot_over_a_part(double depth) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\ntolerance = { gouge = 0.1, excess = 0.1 }\n";
  s.depth = depth;
  s.limits = "axial_depth = 30";
  return s;
}
const std::string part_to_17 = box_stl(Vec3::Zero(), {40, 30, 17});

TEST(Gouge, SpeaksOfASlotInThePart) {
  const Ran deep = run_small(slot_over_a_part(3.5), part_to_17);
  ASSERT_TRUE(deep.result);
  EXPECT_TRUE(deep.result->part.compared);
  EXPECT_NEAR(deep.result->part.mesh_volume_mm3, 40 * 30 * 17, 1e-3);
  // A box's centre is its middle; its moment about x is m (b2 + c2) / 12.
  EXPECT_LT((deep.result->part.mesh_centre - Vec3(20, 15, 8.5)).norm(), 1e-6);
  const double mass = 40 * 30 * 17 * 2.70e-3;
  const Eigen::Matrix3d moments =
      Eigen::Vector3d(30 * 30 + 17 * 17, 40 * 40 + 17 * 17, 40 * 40 + 30 * 30).asDiagonal() *
      Eigen::Matrix3d::Identity() * (mass / 12);
  EXPECT_LT((deep.result->part.mesh_inertia_g_mm2 - moments).norm(), 1e-6 * moments.norm());
  EXPECT_NEAR(deep.result->part.volume_mm3, 40 * 30 * 20 - 6 * 30 * 3.5, 0.001 * 24000);
  EXPECT_NEAR(deep.result->part.mass_g, deep.result->part.volume_mm3 * 2.70e-3, 1e-6);
  const Finding* f = deep.first(FindingKind::gouge);
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->setup, "A");
  EXPECT_NEAR(f->value, 0.5, 0.03);
  EXPECT_EQ(f->limit, 0.1);
  EXPECT_NEAR(f->at.z(), -3.5, 0.3);
}

TEST(Gouge, SilentAboveThePart) {
  EXPECT_FALSE(run_small(slot_over_a_part(2), part_to_17).has(FindingKind::gouge));
}

}  // namespace
}  // namespace proveout::checks
