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

// Walls of a 40 x 20 x 10 mm prism that lie off it by a shift, sampled evenly, some of them with
// material left on: 1 mm of it, as no shift would explain.
std::vector<measure::SurfaceSample> shifted_walls(double x, double y, double left_on) {
  std::vector<measure::SurfaceSample> out;
  const auto wall = [&](const Vec3& from, const Vec3& along, const Vec3& outward) {
    const int count = static_cast<int>(along.norm() / 0.25);
    for (int i = 0; i < count; ++i) {
      for (int k = 1; k < 10; ++k) {
        measure::SurfaceSample s;
        const double more = (i * 9 + k) % 10 < 10 * left_on ? 1 : 0;
        s.at = (from + along * ((i + 0.5) / count) + Vec3(x, y, k) + more * outward).cast<float>();
        s.outward = outward.cast<float>();
        out.push_back(s);
      }
    }
  };
  wall(Vec3(0, 0, 0), Vec3(40, 0, 0), -Vec3::UnitY());
  wall(Vec3(0, 20, 0), Vec3(40, 0, 0), Vec3::UnitY());
  wall(Vec3(0, 0, 0), Vec3(0, 20, 0), -Vec3::UnitX());
  wall(Vec3(40, 0, 0), Vec3(0, 20, 0), Vec3::UnitX());
  return out;
}

solid::PartDistance prism_40_20_10() {
  mesh::Mesh mesh;
  for (int k = 0; k < 8; ++k)
    mesh.vertices.emplace_back((k & 1) * 40.0, (k >> 1 & 1) * 20.0, (k >> 2) * 10.0);
  mesh.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                    {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
  return solid::PartDistance(mesh);
}

TEST(BestFit, SeesAShiftAlongOneAxisOfARectangle) {
  const solid::PartDistance part = prism_40_20_10();
  for (const auto& [x, y] : {std::pair(0.2, 0.0), {-0.3, 0.0}, {0.0, 0.15}, {0.2, -0.1}}) {
    for (const double left_on : {0.0, 0.2}) {
      const BestFit fit =
          best_fit(shifted_walls(x, y, left_on), part, RigidMotion::Identity(), {}, 2);
      ASSERT_TRUE(fit.found);
      EXPECT_NEAR(fit.x, x, 0.005) << x << ' ' << y << ' ' << left_on;
      EXPECT_NEAR(fit.y, y, 0.005) << x << ' ' << y << ' ' << left_on;
      EXPECT_NEAR(fit.turn_deg, 0, 0.01);
    }
  }
}

// The part tells a wrong turn apart even where the sides have no wall in common.
TEST(BestFit, ThePartTellsWhichWayTheBlankLies) {
  Sides s = with_part();
  s.depth_a = 5;
  s.depth_b = 8;
  const Flip right = two_sides::run(s).flips.at(0);
  EXPECT_EQ(right.decision, Decision::declared) << right.text;
  EXPECT_EQ(right.compared_mm, 0);
  s.turn = "{ about = \"x\", degrees = 180 }";
  const Flip wrong = two_sides::run(s).flips.at(0);
  EXPECT_EQ(wrong.decision, Decision::other) << wrong.text;
  EXPECT_EQ(wrong.placements.at(wrong.best_other).name, "turned about y");
}

}  // namespace
}  // namespace proveout::flip
