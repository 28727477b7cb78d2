// Measures against closed forms: boxes and balls; a planted gouge of a quarter of a voxel.
#include "sim/measure/measure.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "sim/measure/support.h"
#include "sim/stock/fields.h"
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

// Box moments and the parallel-axis theorem, as any mechanics book has them.
struct Block {
  Vec3 low, high;
};
MassProperties mass_of_blocks(const std::vector<Block>& blocks) {
  MassProperties m;
  for (const Block& b : blocks) {
    const double v = (b.high - b.low).prod();
    m.volume += v;
    m.centre += v * 0.5 * (b.low + b.high);
  }
  m.centre /= m.volume;
  for (const Block& b : blocks) {
    const Vec3 s = b.high - b.low, away = 0.5 * (b.low + b.high) - m.centre;
    Eigen::Matrix3d second = away * away.transpose();
    second += s.cwiseProduct(s).asDiagonal().toDenseMatrix() / 12;
    m.inertia += s.prod() * (second.trace() * Eigen::Matrix3d::Identity() - second);
  }
  return m;
}

TEST(Mass, AnLThickEnoughForWholeTilesOfMaterial) {
  const Vec3 size(26.4, 17.2, 12.4);
  stock::Stock stock = stock::Stock::box(size, 0.2);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(10.2, -1, 5.2), Vec3(28, 19, 14))});
  const MassProperties exact =
      mass_of_blocks({{{0, 0, 0}, {10.2, 17.2, 12.4}}, {{10.2, 0, 0}, {26.4, 17.2, 5.2}}});
  const MassProperties m = mass_properties(stock);
  EXPECT_NEAR(m.volume, exact.volume, 0.001 * exact.volume);
  EXPECT_LT((m.centre - exact.centre).norm(), 0.01);
  EXPECT_LT((m.inertia - exact.inertia).cwiseAbs().maxCoeff(), 0.002 * exact.inertia.trace());
  EXPECT_GT(std::abs(exact.inertia(0, 2)), 0.05 * exact.inertia.trace());  // tells something
}

TEST(Mass, CoarseVoxelsHaveAnInertiaOfTheirOwn) {
  const Vec3 s(6, 4, 3);
  const MassProperties exact = mass_of_blocks({{{0, 0, 0}, s}}),
                       m = mass_properties(stock::Stock::box(s, 0.5));
  for (int k = 0; k < 3; ++k)
    EXPECT_NEAR(m.inertia(k, k), exact.inertia(k, k), 0.012 * exact.inertia(k, k)) << k;
}

TEST(Extent, ABandSaysWhereXAndYAreTaken) {
  // A step: 8 long from 4 up, 20 long below; a toucher at some height meets that height's side.
  stock::Stock stock = stock::Stock::box({20, 10, 10}, 0.2);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(8, -1, 4), Vec3(21, 11, 11))});
  const auto as_is = Eigen::Matrix3d::Identity();
  const double off = 0.05 * 0.2;
  const Box3 high = extent(stock, as_is, std::pair(5.0, 9.0));
  EXPECT_LT((high.min() - Vec3(0, 0, 0)).norm(), off);
  EXPECT_LT((high.max() - Vec3(8, 10, 10)).norm(), off);
  const Box3 low = extent(stock, as_is, std::pair(1.0, 3.0));
  EXPECT_LT((low.max() - Vec3(20, 10, 10)).norm(), off);
  // An overhang: 8 long up to 6, 20 long above.
  stock::Stock over = stock::Stock::box({20, 10, 10}, 0.2);
  remove_boxes(over, std::vector<Box3>{Box3(Vec3(8, -1, -1), Vec3(21, 11, 6))});
  EXPECT_LT((extent(over, as_is, std::pair(1.0, 3.0)).max() - Vec3(8, 10, 10)).norm(), off);
  // No material between those heights: that of the whole.
  const Box3 above = extent(stock, as_is, std::pair(50.0, 60.0));
  EXPECT_LT((above.max() - Vec3(20, 10, 10)).norm(), off);
  // Turned a quarter about z: x of the machine is minus y of the stock.
  const Eigen::Matrix3d quarter = Eigen::AngleAxisd(pi / 2, Vec3::UnitZ()).toRotationMatrix();
  const Box3 turned = extent(stock, quarter, std::pair(5.0, 9.0));
  EXPECT_LT((turned.min() - Vec3(-10, 0, 0)).norm(), off);
  EXPECT_LT((turned.max() - Vec3(0, 8, 10)).norm(), off);
}

TEST(Mass, MeshAgreesWithItsClosedForm) {
  const mesh::MeshMass m = mesh::mass_of(box_mesh({1, 2, 3}, {5, 9, 6}));
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
  const solid::PartDistance left(box_mesh({0, 0, 0}, {7, 20, 10}));
  keep_one_piece(stock, &left);
  EXPECT_NEAR(volume(stock), 1400, 0.002 * 1400);
}

TEST(Pieces, TheirMiddlesAndAPlaceDeepInEach) {
  // A slot 6 wide at x = 10 leaves blocks of 17 and 7.
  const Cutting c = cut_box({30, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 6),
                            {line({10, -5, -1}, {10, 25, -1})});
  const auto p = pieces(c.stock);
  ASSERT_EQ(p.size(), 2u);
  const Box3 blocks[2] = {Box3(Vec3(13, 0, 0), Vec3(30, 20, 10)),
                          Box3(Vec3(0, 0, 0), Vec3(7, 20, 10))};
  for (std::size_t k = 0; k < 2; ++k) {
    EXPECT_LT((p[k].centre - blocks[k].center()).norm(), 0.02) << k;
    // No nearer to a face than the band is deep, but for the voxel it is in.
    const double least = (stock::Stock::Fields::band_voxels - 1) * 0.25;
    EXPECT_GT((p[k].inside - blocks[k].min()).minCoeff(), least) << k << p[k].inside.transpose();
    EXPECT_GT((blocks[k].max() - p[k].inside).minCoeff(), least) << k << p[k].inside.transpose();
  }
}

TEST(Pieces, WhichPlacesHangTogether) {
  const Cutting through = cut_box({30, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 6),
                                  {line({10, -5, -1}, {10, 25, -1})});
  EXPECT_FALSE(hang_together(through.stock, Vec3(3, 10, 5), Vec3(20, 10, 5)));
  EXPECT_TRUE(hang_together(through.stock, Vec3(14, 1, 1), Vec3(29, 19, 9)));
  EXPECT_FALSE(hang_together(through.stock, Vec3(3, 10, 5), Vec3(10, 10, 5)));   // in the slot
  EXPECT_FALSE(hang_together(through.stock, Vec3(10, 10, 5), Vec3(10, 11, 5)));  // both in it
  // One millimetre left standing at the bottom joins them.
  const Cutting not_through = cut_box({30, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 6),
                                      {line({10, -5, 1}, {10, 25, 1})});
  EXPECT_TRUE(hang_together(not_through.stock, Vec3(3, 10, 5), Vec3(20, 10, 5)));
}

TEST(Pieces, WithoutAPartTheLargestStaysAndTheKeptOneIsFirst) {
  const Cutting c = cut_box({30, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 6),
                            {line({10, -5, -1}, {10, 25, -1})});
  stock::Stock largest = c.stock.clone(), of_part = c.stock.clone();
  const auto by_size = keep_one_piece(largest, nullptr);
  EXPECT_NEAR(volume(largest), 3400, 0.002 * 3400);
  ASSERT_EQ(by_size.size(), 2u);
  EXPECT_GT(by_size[0].volume, by_size[1].volume);
  // A part that lies in both, 6 x 20 x 10 in the small one and 3 x 20 x 10 in the large one.
  const solid::PartDistance part(box_mesh({1, 0, 0}, {16, 20, 10}));
  const auto by_part = keep_one_piece(of_part, &part);
  EXPECT_NEAR(volume(of_part), 1400, 0.002 * 1400);
  ASSERT_EQ(by_part.size(), 2u);
  // Told by every fourth voxel each way: to about such a step, 1 mm, on each side.
  EXPECT_NEAR(by_part[0].shared, 6 * 20 * 10, 2 * 20 * 10 + 1);
  EXPECT_NEAR(by_part[1].shared, 3 * 20 * 10, 2 * 20 * 10 + 1);
  EXPECT_LT(by_part[0].volume, by_part[1].volume);
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

TEST(RemoveBoxes, ABoxFlushWithTheBlankLeavesNoSkin) {
  stock::Stock stock = stock::Stock::box({20, 10, 10}, 0.2);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(8, 0, 0), Vec3(20, 10, 10))});
  const MassProperties m = mass_properties(stock);
  EXPECT_NEAR(m.volume, 800, 0.001 * 800);
  EXPECT_LT((m.centre - Vec3(4, 5, 5)).norm(), 0.01);
  EXPECT_NEAR(m.inertia(2, 2), 800.0 / 12 * (64 + 100), 0.003 * 800.0 / 12 * 164);
}

TEST(RemoveBoxes, ABoxFlushWithTheLowSides) {
  stock::Stock stock = stock::Stock::box({20, 10, 10}, 0.2);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(0, 0, 0), Vec3(8, 10, 10))});
  const MassProperties m = mass_properties(stock);
  EXPECT_NEAR(m.volume, 1200, 0.001 * 1200);
  EXPECT_LT((m.centre - Vec3(14, 5, 5)).norm(), 0.01);
}

TEST(Support, ASliverOfTheFrameDoesNotStandForTheBridge) {
  // The bridge of SectionOfABridge, in a box that takes in a sliver 0.8 thick and 9 high of the
  // frame at its end: across the other way that runs through with 7.2 mm2, less than the bridge.
  for (const bool along_y : {false, true}) {
    const auto at = [&](double x, double y, double z) {
      return along_y ? Vec3(y, x, z) : Vec3(x, y, z);
    };
    stock::Stock stock = stock::Stock::box(at(30, 20, 10), 0.2);
    const auto off = [&](const Vec3& a, const Vec3& b) {
      return Box3(a.cwiseMin(b), a.cwiseMax(b));
    };
    remove_boxes(stock, std::vector<Box3>{off(at(8, 2, -1), at(18, 8, 11)),
                                          off(at(8, 12, -1), at(18, 18, 11)),
                                          off(at(8, 1, 3), at(18, 19, 11))});
    const SupportSection s = support_section(stock, off(at(10, 7.6, -1), at(18.8, 12.4, 9)));
    EXPECT_NEAR(s.area_mm2, 4 * 3, 0.3) << along_y;
    EXPECT_LT((s.at - off(at(10, 7.6, -1), at(18.8, 12.4, 9)).center()).norm(), 1e-9);
    // Nothing runs through the slots beside it.
    EXPECT_EQ(support_section(stock, off(at(10, 3, -1), at(16, 7, 9))).area_mm2, 0) << along_y;
  }
}

TEST(PartDistance, AgreesWithEveryTriangleTried) {
  // Against a brute-force twin: the least distance over all triangles' points, sampled
  // barycentrically and refined, and the sign from the box's own closed form.
  const Vec3 low(-3, 1, 2), high(4, 6, 9);
  const solid::PartDistance d(box_mesh(low, high));
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
