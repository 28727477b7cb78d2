// Sections against closed forms: prism, cylinder, ball, box cut aslant, holes, two pieces.
#include "sim/measure/section.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "sim/measure/measure.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::measure {
namespace {

RigidMotion level(double z) { return RigidMotion(Eigen::Translation3d(0, 0, z)); }

// A drum of many sides on z: area n r^2 sin(2 pi / n) / 2, perimeter 2 n r sin(pi / n).
stock::Stock drum(int sides, double r, double height, double voxel, const Vec3& middle) {
  std::vector<Vec3> v;
  std::vector<std::array<std::uint32_t, 3>> t;
  for (int k = 0; k < sides; ++k) {
    const double a = 2 * pi * k / sides;
    v.emplace_back(middle + Vec3(r * std::cos(a), r * std::sin(a), 0));
    v.emplace_back(middle + Vec3(r * std::cos(a), r * std::sin(a), height));
  }
  const auto n = static_cast<std::uint32_t>(sides);
  v.push_back(middle);
  v.push_back(middle + Vec3(0, 0, height));
  for (std::uint32_t k = 0; k < n; ++k) {
    const std::uint32_t a = 2 * k, b = 2 * ((k + 1) % n);
    t.push_back({a, b, a + 1});
    t.push_back({b, b + 1, a + 1});
    t.push_back({2 * n, b, a});
    t.push_back({2 * n + 1, a + 1, b + 1});
  }
  return stock::Stock::mesh(v, t, voxel);
}

TEST(Section, Cylinder) {
  const int n = 240;
  const double r = 9.37;
  for (double voxel : {0.5, 0.25}) {
    const stock::Stock stock = drum(n, r, 14, voxel, Vec3(12.1, 11.7, 0));
    const Section s = section(stock, level(6.13));
    EXPECT_NEAR(s.area_mm2, n * r * r * std::sin(2 * pi / n) / 2, 0.0015 * pi * r * r) << voxel;
    EXPECT_NEAR(s.perimeter_mm, 2 * n * r * std::sin(pi / n), 0.002 * 2 * pi * r) << voxel;
    ASSERT_EQ(s.contours.size(), 1u);
    for (const Eigen::Vector2d& p : s.contours[0].points)
      EXPECT_NEAR((p - Eigen::Vector2d(12.1, 11.7)).norm(), r, 0.05 * voxel) << voxel;
    EXPECT_TRUE(section(stock, level(20)).contours.empty());
    EXPECT_TRUE(section(stock, level(-6)).contours.empty());
  }
}

// The cut of a ball tool plunged into a block: a round hole of radius sqrt(r^2 - (r - h)^2) at
// height h above the tip.
TEST(Section, HoleOfABall) {
  const Vec3 block(40, 30, 14), tip(19.3, 14.6, 8.2);
  const double r = 6, voxel = 0.2;
  const job::Tool tool = stock::tool_of(job::ToolShape::ball, 2 * r);
  const auto cut = stock::cut_box(block, voxel, tool, {stock::line(tip + Vec3(0, 0, 9), tip)});
  for (double h : {1.17, 2.53, 4.31}) {
    const Section s = section(cut.stock, level(tip.z() + h));
    const double hole = pi * (r * r - (r - h) * (r - h));
    ASSERT_EQ(s.contours.size(), 2u) << h;
    EXPECT_NEAR(s.contours[1].area_mm2, -hole, 0.01 * hole) << h;
    EXPECT_NEAR(s.area_mm2, block.x() * block.y() - hole, 0.01 * hole + 0.05) << h;
    EXPECT_NEAR(s.contours[0].length_mm, 2 * (block.x() + block.y()), 4 * voxel) << h;
  }
}

TEST(Section, BoxAslant) {
  const Vec3 size(30.3, 20.1, 16.2);
  const double voxel = 0.2;
  const stock::Stock stock = stock::Stock::box(size, voxel);
  std::mt19937 random(77);
  std::uniform_real_distribution<double> angle(-22, 22), turn(0, 360);
  for (int round = 0; round < 20; ++round) {
    // Turned about y through the middle the plane leaves by the four upright sides.
    const double a = angle(random), b = turn(random);
    const RigidMotion plane = Eigen::Translation3d(size / 2) *
                              Eigen::AngleAxisd(a / deg_per_rad, Vec3::UnitY()) *
                              Eigen::AngleAxisd(b / deg_per_rad, Vec3::UnitZ());
    const double wide = size.x() / std::cos(a / deg_per_rad);
    const Section s = section(stock, plane);
    EXPECT_NEAR(s.area_mm2, wide * size.y(), 0.001 * wide * size.y()) << a << " " << b;
    EXPECT_NEAR(s.perimeter_mm, 2 * (wide + size.y()), 6 * voxel) << a << " " << b;
    EXPECT_EQ(s.contours.size(), 1u) << a << " " << b;
  }
}

TEST(Section, TwoPiecesAndAHole) {
  stock::Stock stock = stock::Stock::box({40, 20, 10}, 0.25);
  const Box3 away[] = {Box3(Vec3(18.1, -2, -2), Vec3(21.4, 22, 12)),
                       Box3(Vec3(5.2, 5.3, 4), Vec3(11.1, 13.2, 12))};
  remove_boxes(stock, away);
  const Section low = section(stock, level(2)), high = section(stock, level(7));
  ASSERT_EQ(low.contours.size(), 2u);
  ASSERT_EQ(high.contours.size(), 3u);
  EXPECT_NEAR(low.area_mm2, 20 * (18.1 + 40 - 21.4), 0.5);
  EXPECT_NEAR(high.area_mm2, low.area_mm2 - 5.9 * 7.9, 0.5);
  EXPECT_LT(high.contours[2].area_mm2, 0);
}

}  // namespace
}  // namespace proveout::measure
