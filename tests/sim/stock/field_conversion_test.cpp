// Distances in steps: what rounding promises, and that nothing is lost on the way to a file's
// floating point and back.
#include "sim/stock/field_conversion.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "sim/stock/distance_reader.h"

namespace proveout::stock {
namespace {

TEST(Steps, EveryOneComesBackFromMillimetres) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> log_voxel(-3, 1.5);
  for (int n = 0; n < 40; ++n) {
    Stock::Fields f;
    f.voxel = n == 0 ? 0.1 : std::pow(10, log_voxel(random));
    const auto rounding = f.rounding();
    for (int k = -Stock::Fields::band_steps; k <= Stock::Fields::band_steps; ++k) {
      ASSERT_EQ(rounding(f.mm_a_step() * static_cast<float>(k)), k) << "voxel " << f.voxel;
    }
    EXPECT_EQ(rounding(1e30f), Stock::Fields::band_steps);
    EXPECT_EQ(rounding(-1e30f), -Stock::Fields::band_steps);
    EXPECT_NEAR(f.band(), 3 * f.voxel, 1e-6 * f.voxel);
  }
}

// No more than half a step off, and a voxel further on by a voxel's steps: along a face that lies
// across an axis all columns read alike.
TEST(Steps, AreRoundedAlikeInEveryVoxel) {
  std::mt19937 random(6);
  std::uniform_real_distribution<double> u(-2, 2);
  Stock::Fields f;
  f.voxel = 0.13;
  const auto rounding = f.rounding();
  int apart = 0;
  for (int n = 0; n < 100000; ++n) {
    const double d = u(random) * f.voxel;
    const int steps = rounding(static_cast<float>(d));
    EXPECT_NEAR(steps * static_cast<double>(f.mm_a_step()), d, 0.51 * f.mm_a_step());
    const int next = rounding(static_cast<float>(d - f.voxel));
    EXPECT_LE(std::abs(steps - next - Stock::Fields::steps_a_voxel), 1) << d;
    apart += steps - next != Stock::Fields::steps_a_voxel;
  }
  // Only where floating point falls to either side of half a step.
  EXPECT_LT(apart, 500);
}

TEST(Steps, AStockGoesToMillimetresAndBack) {
  const Stock stock = Stock::box(Vec3(20.3, 7.1, 5.05), 0.11);
  const auto mm = in_mm(stock.fields());
  const auto again = in_steps(mm->tree(), stock.fields());
  const auto& tree = stock.fields().steps->tree();
  EXPECT_TRUE(again->tree().hasSameTopology(tree));
  EXPECT_EQ(again->activeVoxelCount(), stock.fields().steps->activeVoxelCount());
  const DistanceReader distance(stock.fields());
  std::mt19937 random(7);
  std::uniform_int_distribution<int> any(-10, 200);
  for (int n = 0; n < 100000; ++n) {
    const openvdb::Coord at(any(random), any(random), any(random));
    ASSERT_EQ(again->tree().getValue(at), tree.getValue(at)) << at;
    ASSERT_EQ(mm->tree().getValue(at), distance.at(at)) << at;
  }
}

TEST(Steps, WhatIsNoNumberIsAir) {
  Stock::Fields f;
  f.voxel = 0.1;
  openvdb::FloatTree mm(0.3f);
  mm.setValueOn(openvdb::Coord(1, 1, 1), std::nanf(""));
  mm.setValueOn(openvdb::Coord(1, 1, 2), -0.1f);
  const auto steps = in_steps(mm, f);
  EXPECT_EQ(steps->tree().getValue(openvdb::Coord(1, 1, 1)), Stock::Fields::band_steps);
  EXPECT_EQ(steps->tree().getValue(openvdb::Coord(1, 1, 2)), -Stock::Fields::steps_a_voxel);
}

}  // namespace
}  // namespace proveout::stock
