// Measures against closed forms: boxes and balls; a planted gouge of a quarter of a voxel.
#include "sim/measure/measure.h"

#include <gtest/gtest.h>

#include <random>

#include "sim/measure/deviation.h"
#include "sim/measure/support.h"
#include "tests/sim/measure/box_mesh.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::measure {
namespace {

using stock::cut_box;
using stock::Cutting;
using stock::line;
using stock::tool_of;

TEST(Volume, BoxesOfAnySize) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> size(6, 15);
  for (int i = 0; i < 20; ++i) {
    const Vec3 s(size(random), size(random), size(random));
    const stock::Stock stock = stock::Stock::box(s, 0.25);
    EXPECT_NEAR(volume(stock), s.prod(), 0.001 * s.prod())
        << "seed 3 case " << i << " size " << s.transpose();
    const Box3 box = extent(stock, Eigen::Matrix3d::Identity());
    EXPECT_LT(box.min().norm(), 0.05 * 0.25) << i;
    EXPECT_LT((box.max() - s).norm(), 0.05 * 0.25) << i;
  }
}

TEST(Mass, BoxInClosedForm) {
  const Vec3 s(12, 8, 5);
  const MassProperties m = mass_properties(stock::Stock::box(s, 0.2));
  EXPECT_LT((m.centre - s / 2).norm(), 0.005);
  for (int k = 0; k < 3; ++k) {
    const double expected = s.prod() / 12 * (s.squaredNorm() - s[k] * s[k]);
    EXPECT_NEAR(m.inertia(k, k), expected, 0.003 * expected) << k;
  }
}

TEST(Mass, MeshAgreesWithItsClosedForm) {
  const part::MeshMass m = part::mass_of(box_mesh({1, 2, 3}, {5, 9, 6}));
  EXPECT_NEAR(m.volume, 84, 1e-9);
  EXPECT_LT((m.centre - Vec3(3, 5.5, 4.5)).norm(), 1e-12);
  EXPECT_NEAR(m.inertia(0, 0), 84.0 / 12 * (49 + 9), 1e-9);
}

TEST(Pieces, ASlotThroughTheBlockMakesTwo) {
  const Cutting c = cut_box({30, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 6),
                            {line({10, -5, -1}, {10, 25, -1})});
  const auto p = pieces(c.stock);
  ASSERT_EQ(p.size(), 2u);
  EXPECT_NEAR(p[0].volume, 17 * 20 * 10, 0.002 * 3400);
  EXPECT_NEAR(p[1].volume, 7 * 20 * 10, 0.002 * 1400);
  stock::Stock stock = c.stock.clone();
  const part::PartDistance left(box_mesh({0, 0, 0}, {7, 20, 10}));
  keep_one_piece(stock, &left);
  EXPECT_NEAR(volume(stock), 1400, 0.002 * 1400);
}

TEST(Boxes, AreTakenOff) {
  stock::Stock stock = stock::Stock::box({20, 10, 10}, 0.25);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(5, -1, -1), Vec3(8.1, 11, 11))});
  EXPECT_NEAR(volume(stock), 20 * 100 - 3.1 * 100, 3);
}

TEST(Support, SectionOfABridge) {
  // Two slots along x leave a wall 4 wide between them; cut down to 3 high it is a bridge of 4 x 3
  // mm2.
  const Cutting c = cut_box({30, 20, 10}, 0.2, tool_of(job::ToolShape::flat, 6),
                            {line({-4, 5, -1}, {34, 5, -1}), line({-4, 15, -1}, {34, 15, -1}),
                             line({-4, 10, 3}, {34, 10, 3})});
  const SupportSection s = support_section(c.stock, Box3(Vec3(10, 7, -1), Vec3(20, 13, 6)));
  EXPECT_NEAR(s.area_mm2, 12, 0.1);
  EXPECT_EQ(s.left_by, 3u);
}

TEST(Deviation, AQuarterOfAVoxelIsFoundAndItsDepthRight) {
  // Part: the block below 8; the floor is cut at 8 - 0.05 in a voxel of 0.2, at odd heights against
  // the grid.
  for (double shift : {0.0, 0.031, 0.077, 0.1, 0.143}) {
    const double floor = 8 + shift;
    const part::PartDistance part(box_mesh({0, 0, 0}, {30, 20, floor}));
    std::vector<nc::Motion> face;
    for (double y = 0; y <= 20; y += 4)
      face.push_back(line({-4, y, floor - 0.05}, {34, y, floor - 0.05}));
    const Cutting c = cut_box({30, 20, 10}, 0.2, tool_of(job::ToolShape::flat, 6), face);
    const Deviation d = deviation(c.stock, part, 0.02, 0.2, {});
    EXPECT_NEAR(d.worst_gouge, 0.05, 0.1 * 0.2) << shift;
    // Points within a voxel or so of an edge are left out, so the volume is a few percent short.
    EXPECT_NEAR(d.gouge_mm3, 30 * 20 * 0.05, 0.08 * 30) << shift;
    EXPECT_EQ(d.worst_excess, 0);
    ASSERT_FALSE(d.gouges.empty());
    EXPECT_GE(d.gouges.front().by, 1u);
  }
}

TEST(RemoveBoxes, ABoxFlushWithTheBlankLeavesNoSkin) {
  stock::Stock stock = stock::Stock::box({20, 10, 10}, 0.2);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(8, 0, 0), Vec3(20, 10, 10))});
  const MassProperties m = mass_properties(stock);
  EXPECT_NEAR(m.volume, 800, 0.001 * 800);
  EXPECT_LT((m.centre - Vec3(4, 5, 5)).norm(), 0.01);
  EXPECT_NEAR(m.inertia(2, 2), 800.0 / 12 * (64 + 100), 0.003 * 800.0 / 12 * 164);
}

TEST(Deviation, AnInnocentCutIsNotAccusedAtItsEdges) {
  const double floor = 7.93;
  const part::PartDistance part(box_mesh({0, 0, 0}, {30, 20, floor}));
  std::vector<nc::Motion> face;
  for (double y = 0; y <= 20; y += 4) face.push_back(line({-4, y, floor}, {34, y, floor}));
  const Cutting c = cut_box({30, 20, 10}, 0.2, tool_of(job::ToolShape::flat, 6), face);
  const Deviation d = deviation(c.stock, part, 0.02, 0.02, {});
  EXPECT_EQ(d.gouges.size(), 0u) << d.worst_gouge;
  EXPECT_EQ(d.excesses.size(), 0u) << d.worst_excess;
}

TEST(PartDistance, AgreesWithEveryTriangleTried) {
  // Against a brute-force twin: the least distance over all triangles' points, sampled
  // barycentrically and refined, and the sign from the box's own closed form.
  const Vec3 low(-3, 1, 2), high(4, 6, 9);
  const part::PartDistance d(box_mesh(low, high));
  std::mt19937 random(9);
  std::uniform_real_distribution<double> u(-6, 14);
  for (int i = 0; i < 2000; ++i) {
    const Vec3 p(u(random), u(random), u(random));
    const Vec3 q = (p - 0.5 * (low + high)).cwiseAbs() - 0.5 * (high - low);
    const double exact = q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
    EXPECT_NEAR(d.at(p), exact, 1e-9) << "seed 9 case " << i << " " << p.transpose();
  }
}

}  // namespace
}  // namespace proveout::measure
