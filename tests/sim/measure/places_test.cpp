// What is told of single places and of lines through the stock: heights, samples of the surface,
// the field between voxels, plane sections and ways across. Against closed forms.
#include <gtest/gtest.h>

#include <atomic>
#include <random>

#include "sim/measure/bridges.h"
#include "sim/measure/height_map.h"
#include "sim/measure/measure.h"
#include "sim/measure/plane_section.h"
#include "sim/measure/pockets.h"
#include "sim/measure/probe.h"
#include "sim/measure/section.h"
#include "sim/measure/surface_samples.h"
#include "tests/sim/measure/box_mesh.h"
#include "tests/sim/measure/solids.h"

namespace proveout::measure {
namespace {

using stock::Stock;

constexpr double h = 0.2;

// A step: 8 long from 4 up, 20 long below.
Stock step() {
  Stock stock = Stock::box({20, 10, 10}, h);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(8, -1, 4), Vec3(21, 11, 11))});
  return stock;
}

TEST(HeightMap, OfAStepFromAboveAndFromBelow) {
  const Stock stock = step();
  const HeightMap map = height_map(stock, RigidMotion::Identity(), 1);
  ASSERT_GE(map.columns, 20);
  ASSERT_GE(map.rows, 10);
  EXPECT_NEAR(map.x0, 0, 0.05 * h);
  EXPECT_NEAR(map.y0, 0, 0.05 * h);
  for (int j = 0; j < 10; ++j) {
    for (int i = 0; i < 20; ++i) {
      if (i == 8) continue;  // the riser stands at its edge
      EXPECT_NEAR(map.at(i, j), i < 8 ? 10 : 4, 0.05 * h) << i << " " << j;
    }
  }
  // Half a turn about x, the underside up: it is flat.
  const RigidMotion turned(Eigen::Translation3d(0, 10, 0) * Eigen::AngleAxisd(pi, Vec3::UnitX()));
  const HeightMap under = height_map(stock, turned, 1);
  ASSERT_GE(under.columns, 20);
  for (int j = 0; j < 10; ++j) {
    for (int i = 0; i < 20; ++i) EXPECT_NEAR(under.at(i, j), 0, 0.05 * h) << i << " " << j;
  }
}

// A fin of a voxel and a half has no voxel with the slope of a single face, and counts all the
// same.
TEST(HeightMap, AThinFinCounts) {
  const Stock stock =
      stock_of(together({box({0, 0, 0}, {20, 10, 4}), box({10, 0, 3}, {10.3, 10, 9.13})}),
               Box3(Vec3(-1, -1, -1), Vec3(21, 11, 11)), h);
  EXPECT_NEAR(extent(stock, Eigen::Matrix3d::Identity()).max().z(), 9.13, 0.5 * h);
  const HeightMap map = height_map(stock, RigidMotion::Identity(), 1);
  EXPECT_NEAR(map.at(10, 5), 9.13, 0.5 * h);
  EXPECT_NEAR(map.at(5, 5), 4, 0.05 * h);
}

TEST(HeightMap, ColumnTopsAreNeverLowerThanTheMaterial) {
  const Stock stock = step();
  const HeightMap map = column_tops(stock, RigidMotion::Identity(), 3 * h);
  EXPECT_NEAR(map.cell, 3 * h, 1e-9);
  EXPECT_NEAR(map.x0 / h, std::round(map.x0 / h), 1e-6) << "cells lie on voxels";
  EXPECT_NEAR(map.y0 / h, std::round(map.y0 / h), 1e-6);
  for (double x = 0.05; x < 20; x += 0.1) {
    const int i = static_cast<int>(std::floor((x - map.x0) / map.cell));
    const int j = static_cast<int>(std::floor((5 - map.y0) / map.cell));
    ASSERT_TRUE(i >= 0 && i < map.columns);
    // Within the cell of the riser's edge either may stand.
    EXPECT_GE(map.at(i, j), (x < 8 ? 10 : 4) - 1e-4) << x;
    EXPECT_LE(map.at(i, j), (x < 8 + map.cell ? 10 : 4) + 0.02) << x;
  }
  // A cell is a whole number of voxels, no smaller than was asked and no smaller than one.
  EXPECT_NEAR(column_tops(stock, RigidMotion::Identity(), 2.5 * h).cell, 3 * h, 1e-9);
  EXPECT_NEAR(column_tops(stock, RigidMotion::Identity(), 0.1 * h).cell, h, 1e-9);
}

TEST(SurfaceSamples, StandForTheFaceTheyLieOn) {
  const Vec3 size(20, 15, 10);
  const Stock stock = Stock::box(size, h);
  const auto up = [](const Vec3& outward, stock::MotionId by) {
    return by == 0 && outward.z() > 0.9;
  };
  const auto all = surface_samples(stock, up, 1'000'000);
  for (const SurfaceSample& s : all) {
    EXPECT_NEAR(s.at.z(), 10, 0.05 * h);
    EXPECT_GT(s.outward.z(), 0.99f);
    EXPECT_EQ(s.by, 0u);
  }
  // One a voxel, but for a rim of a voxel or two at the edges.
  const double count = static_cast<double>(all.size());
  EXPECT_LE(count, size.x() * size.y() / h / h);
  EXPECT_GE(count, (size.x() - 4 * h) * (size.y() - 4 * h) / h / h);
  // Fewer, and still evenly: each quarter of the face has about a quarter of them.
  const auto few = surface_samples(stock, up, 1000);
  EXPECT_LT(few.size(), all.size() / 4);
  ASSERT_GT(few.size(), 100u);
  double quarter[4] = {0, 0, 0, 0};
  for (const SurfaceSample& s : few) quarter[(s.at.x() > 10) + 2 * (s.at.y() > 7.5)] += 1;
  for (double q : quarter) EXPECT_NEAR(q / static_cast<double>(few.size()), 0.25, 0.03);
}

TEST(Probe, TellsTheDistanceToFlatFaces) {
  // Trilinear between samples of a linear field is exact: beside a face's middle the field is.
  const Stock stock = Stock::box({20, 15, 10}, h);
  const StockProbe probe(stock);
  std::mt19937 random(4);
  std::uniform_real_distribution<double> along(3, 7), near(-2 * h, 2 * h);
  for (int n = 0; n < 200; ++n) {
    const double d = near(random);
    EXPECT_NEAR(probe.at(Vec3(along(random), along(random), 10 + d)), d, 1e-5) << n;
    EXPECT_NEAR(probe.at(Vec3(-d, along(random), along(random))), d, 1e-5) << n;
    EXPECT_NEAR(probe.at(Vec3(along(random), 15 + d, along(random))), d, 1e-5) << n;
  }
  const double deep = stock::Stock::Fields::band_voxels * h;
  EXPECT_NEAR(probe.at(Vec3(10, 7, 5)), -deep, 1e-6);
  EXPECT_NEAR(probe.at(Vec3(10, 7, 40)), deep, 1e-6);
}

TEST(Probe, TheLineMeetsTheHighestFaceFirst) {
  // A bridge over a gap: from above its top, whatever lies below.
  const Stock stock =
      stock_of(together({box({0, 0, 0}, {20, 10, 3.07}), box({5, 0, 6}, {15, 10, 8.13})}),
               Box3(Vec3(-1, -1, -1), Vec3(21, 11, 10)), h);
  const RigidMotion as_is = RigidMotion::Identity();
  EXPECT_NEAR(highest_on_line(stock, as_is, 10, 5), 8.13, 0.1 * h);
  EXPECT_NEAR(highest_on_line(stock, as_is, 2, 5), 3.07, 0.1 * h);
  EXPECT_LT(highest_on_line(stock, as_is, 30, 5), -1e8);
  // Highest at the very top of all that is sampled.
  const Stock block = Stock::box({20, 10, 10}, h);
  EXPECT_NEAR(highest_on_line(block, as_is, 10, 5), 10, 0.1 * h);
}

TEST(PlaneSection, OfABarWhereverInItItStarts) {
  std::mt19937 random(8);
  std::uniform_real_distribution<double> u(-1, 1);
  for (int n = 0; n < 12; ++n) {
    const Vec3 axis = Vec3(1, 0.4 * u(random), 0.4 * u(random)).normalized();
    const Vec3 middle(16, 10, 8);
    const Stock stock = stock_of(bar(middle, axis, pi * u(random), 4, 2, false),
                                 Box3(Vec3(4, 2, 0), Vec3(28, 18, 16)), h);
    const FieldSampler field(stock.fields());
    const auto [side, other] = across(axis);
    const Vec3 start = middle + 0.7 * u(random) * side + 0.6 * u(random) * other;
    const auto s = plane_section(field, start, axis, 100, h);
    ASSERT_TRUE(s) << n;
    EXPECT_NEAR(s->area_mm2, 8, 0.007 * 8) << "seed 8 case " << n;
    EXPECT_LT((s->middle - middle).norm(), 0.1 * h) << "seed 8 case " << n;
    for (const Vec3& p : s->places) EXPECT_NEAR((p - middle).dot(axis), 0, 1e-9);
    EXPECT_FALSE(plane_section(field, start, axis, 7.5, h)) << "larger than asked";
    EXPECT_FALSE(plane_section(field, middle + 4 * side, axis, 100, h)) << "in the air";
  }
}

TEST(PlaneSection, AnotherBarCloseByIsNotCounted) {
  // Two bars 3 x 2, two voxels apart: the smeared edge of either reaches to the other.
  const Stock stock =
      stock_of(together({box({0, 0, 0}, {20, 3, 2}), box({0, 3.4, 0}, {20, 6.4, 2})}),
               Box3(Vec3(-1, -1, -1), Vec3(21, 8, 3)), h);
  const auto s =
      plane_section(FieldSampler(stock.fields()), Vec3(10, 1.3, 1), Vec3::UnitX(), 100, h);
  ASSERT_TRUE(s);
  EXPECT_NEAR(s->area_mm2, 6, 0.04 * 6);
  EXPECT_NEAR(s->middle.y(), 1.5, 0.25 * h);
}

TEST(PlaneSection, TheNarrowestWayAcross) {
  // Closed form: across a bar of any turn about itself its thickness; 24 directions come within
  // 3.75 degrees of it.
  std::mt19937 random(5);
  std::uniform_real_distribution<double> u(0, pi);
  for (int n = 0; n < 12; ++n) {
    const Vec3 middle(16, 10, 8);
    const Stock stock = stock_of(bar(middle, Vec3::UnitX(), u(random), 6, 1.7, false),
                                 Box3(Vec3(4, 2, 0), Vec3(28, 18, 16)), h);
    const FieldSampler field(stock.fields());
    const double way = narrowest_way(field, middle, Vec3::UnitX(), 30);
    EXPECT_GE(way, 1.7 - 0.05 * h) << "seed 5 case " << n;
    EXPECT_LE(way, 1.7 / std::cos(3.75 / deg_per_rad) + 0.05 * h) << "seed 5 case " << n;
    EXPECT_DOUBLE_EQ(narrowest_way(field, middle, Vec3::UnitX(), 0.5), 1) << "the reach each way";
  }
}

// A whole blank milled away: every measure says so and none stops.
TEST(NothingLeft, EveryMeasureSaysSo) {
  Stock stock = Stock::box({8, 6, 4}, h);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(-1, -1, -1), Vec3(9, 7, 5))});
  const RigidMotion as_is = RigidMotion::Identity();
  EXPECT_EQ(volume(stock), 0);
  EXPECT_EQ(mass_properties(stock).volume, 0);
  EXPECT_TRUE(extent(stock, Eigen::Matrix3d::Identity(), std::pair(0.0, 2.0)).isEmpty());
  for (const Piece& p : pieces(stock)) EXPECT_EQ(p.volume, 0);
  for (const Piece& p : keep_one_piece(stock, nullptr)) EXPECT_EQ(p.volume, 0);
  EXPECT_FALSE(hang_together(stock, Vec3(1, 1, 1), Vec3(2, 2, 2)));
  EXPECT_EQ(height_map(stock, as_is, 1).columns, 0);
  for (const float z : column_tops(stock, as_is, 1).height) EXPECT_LT(z, -1e8f);
  EXPECT_LT(highest_on_line(stock, as_is, 4, 3), -1e8);
  EXPECT_TRUE(section(stock, RigidMotion(Eigen::Translation3d(0, 0, 2))).contours.empty());
  EXPECT_TRUE(pockets(stock, as_is, 0.25, 1).empty());
  EXPECT_TRUE(bridges(stock, solid::PartDistance(box_mesh({1, 1, 1}, {5, 5, 3})), 6).empty());
  EXPECT_TRUE(surface_samples(
                  stock, [](const Vec3&, stock::MotionId) { return true; }, 10)
                  .empty());
}

// Pockets with straight walls: everything about them is arithmetic.
TEST(Pockets, TwoAreMeasuredAndTheLargerIsFirst) {
  Stock stock = Stock::box({40, 30, 10}, h);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(4, 4, 7), Vec3(9, 10, 11)),
                                        Box3(Vec3(20, 5, 4), Vec3(32, 15, 11)),
                                        Box3(Vec3(4, 20, 9), Vec3(5, 21, 11)),
                                        Box3(Vec3(30, 20, -1), Vec3(36, 26, 11))});
  const auto found = pockets(stock, RigidMotion::Identity(), h, 10);
  ASSERT_EQ(found.size(), 2u);  // the third holds 1 mm3, the fourth goes right through
  EXPECT_EQ(pockets(stock, RigidMotion::Identity(), h, 0.5).size(), 3u);
  const Vec3 sizes[2] = {{12, 10, 6}, {5, 6, 3}};
  const Vec3 middles[2] = {{26, 10, 4}, {6.5, 7, 7}};
  for (std::size_t k = 0; k < 2; ++k) {
    const Vec3& s = sizes[k];
    EXPECT_NEAR(found[k].volume_mm3, s.prod(), 0.01 * s.prod()) << k;
    EXPECT_NEAR(found[k].area_mm2, s.x() * s.y(), 2 * h * (s.x() + s.y())) << k;
    EXPECT_NEAR(found[k].depth, s.z(), 0.05 * h) << k;
    EXPECT_NEAR(found[k].at.z(), middles[k].z(), 0.05 * h) << k;
    EXPECT_LE(std::abs(found[k].at.x() - middles[k].x()), s.x() / 2) << k;
    EXPECT_LE(std::abs(found[k].at.y() - middles[k].y()), s.y() / 2) << k;
    ASSERT_EQ(found[k].plugs.size(), 10u) << k;
    for (const Plug& p : found[k].plugs) {
      EXPECT_LE(p.diameter, std::min(s.x(), s.y()) + 1e-6) << k << " at " << p.height;
      EXPECT_GE(p.diameter, std::min(s.x(), s.y()) - 1.1 * h) << k << " at " << p.height;
    }
  }
}

TEST(Pockets, AStepNarrowsTheDeeperPlugsAndALowRimEmptiesThem) {
  // 12 x 10 down to 2, 6 x 6 down to 5; then the rim cut down by 1 on one side.
  Stock stock = Stock::box({40, 30, 10}, h);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(10, 10, 8), Vec3(22, 20, 11)),
                                        Box3(Vec3(13, 12, 5), Vec3(19, 18, 11)),
                                        // A floor is never quite even.
                                        Box3(Vec3(15, 14, 4.95), Vec3(17, 16, 11))});
  auto found = pockets(stock, RigidMotion::Identity(), h, 10);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_NEAR(found[0].volume_mm3, 12 * 10 * 2 + 6 * 6 * 3, 0.01 * 348);
  for (const Plug& p : found[0].plugs) {
    if (std::abs(p.height - 2) < 0.05) continue;  // either side of the step
    const double wide = p.height < 2 ? 10 : 6;
    EXPECT_LE(p.diameter, wide + 1e-6) << p.height;
    EXPECT_GE(p.diameter, wide - 1.1 * h) << p.height;
  }
  // Its deepest place: the middle of a cell of that spot.
  EXPECT_GT(found[0].at.x(), 15 + 0.25 * h);
  EXPECT_LT(found[0].at.x(), 17 - 0.25 * h);
  EXPECT_NEAR(found[0].at.x() / h - std::floor(found[0].at.x() / h), 0.5, 1e-6);
  EXPECT_NEAR(found[0].at.z(), 4.95, 0.05 * h);
  remove_boxes(stock, std::vector<Box3>{Box3(Vec3(20, 14, 9), Vec3(41, 16, 11))});
  found = pockets(stock, RigidMotion::Identity(), h, 10);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_NEAR(found[0].volume_mm3, 12 * 10 * 1 + 6 * 6 * 3, 0.01 * 228);
  EXPECT_NEAR(found[0].depth, 4.05, 0.05 * h);
}

// Blocks that meet at a corner: with a hair of overlap one figure, with a hair of air two. Truth is
// that of the squares.
TEST(Section, AtACornerMaterialIsJoinedOrNot) {
  for (const bool mirrored : {false, true}) {
    for (const double overlap : {0.04, -0.04}) {
      const double far = 10 + overlap, near = 10 - overlap;
      const Solid blocks =
          mirrored ? together({box({near, 0, 0}, {20, far, 6}), box({0, near, 0}, {far, 20, 6})})
                   : together({box({0, 0, 0}, {far, far, 6}), box({near, near, 0}, {20, 20, 6})});
      const Stock stock = stock_of(blocks, Box3(Vec3(-1, -1, -1), Vec3(21, 21, 7)), h);
      const Section s = section(stock, RigidMotion(Eigen::Translation3d(0, 0, 3)));
      EXPECT_EQ(s.contours.size(), overlap > 0 ? 1u : 2u) << mirrored << overlap;
      EXPECT_NEAR(s.area_mm2, 2 * far * far, 0.1) << mirrored << overlap;
      EXPECT_NEAR(s.perimeter_mm, 8 * far, 8 * h) << mirrored << overlap;
    }
  }
}

}  // namespace
}  // namespace proveout::measure
