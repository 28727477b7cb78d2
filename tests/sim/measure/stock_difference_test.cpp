// Two stocks held against each other, against arithmetic; and the stock as a file.
#include "sim/measure/stock_difference.h"

#include <gtest/gtest.h>

#include <cmath>

#include "parser/job/job.h"
#include "sim/measure/measure.h"
#include "sim/stock/stock_file.h"

namespace proveout::measure {
namespace {

using stock::Stock;

stock::Cut mill(Stock& stock, double x, double z, stock::MotionId first) {
  job::Tool t;
  t.number = 1;
  t.shape = job::ToolShape::flat;
  t.diameter = 6;
  t.flute_length = 20;
  t.stickout = 30;
  const solid::ToolBody body = solid::make_tool_body(t);
  nc::Motion m;
  m.kind = nc::PathKind::line;
  m.start = Vec3(x, -5, z);
  m.end = Vec3(x, 25, z);
  m.feed = 500;
  const stock::ToolRun use{0, 1, &body};
  return stock.cut(std::span(&m, 1), std::span(&use, 1), RigidMotion::Identity(), first, {});
}

TEST(StockDifference, OfAFaceMovedAFractionOfAVoxel) {
  for (double moved : {0.03, 0.13, 0.4}) {
    const Stock low = Stock::box(Vec3(20, 15, 10), 0.25),
                high = Stock::box(Vec3(20, 15, 10 + moved), 0.25);
    const StockDifference d = stock_difference(low, high);
    EXPECT_NEAR(d.worst_mm, moved, 0.05 * 0.25) << moved;
    EXPECT_NEAR(d.only_second_mm3, 20 * 15 * moved, 0.01 * 20 * 15 * moved + 0.5) << moved;
    EXPECT_NEAR(d.only_first_mm3, 0, 0.5) << moved;
    EXPECT_FALSE(d.beyond_reach);
    // One face of six: its share of the surface, moved by that much.
    const double mean = moved * 20 * 15 / (2 * (20 * 15 + 20 * 10 + 15 * 10));
    EXPECT_NEAR(d.mean_mm, mean, 0.1 * mean + 0.001) << moved;
    EXPECT_NEAR(d.worst_at.z(), 10, 0.25 + moved) << moved;
    // The other way round the sides change places.
    EXPECT_NEAR(stock_difference(high, low).only_first_mm3, d.only_second_mm3, 0.5);
  }
}

TEST(StockDifference, OfOtherVoxelsAndOfNothing) {
  const Stock fine = Stock::box(Vec3(20, 15, 10), 0.2),
              coarse = Stock::box(Vec3(20, 15, 10.1), 0.3);
  const StockDifference d = stock_difference(fine, coarse);
  // Between voxels that do not line up corners are smeared: a fifth of the coarser voxel.
  EXPECT_NEAR(d.worst_mm, 0.1, 0.2 * 0.3);
  EXPECT_NEAR(d.mean_mm, 20 * 15 * 0.1 / (2 * (20 * 15 + 20 * 10 + 15 * 10)), 0.02);
  EXPECT_NEAR(d.only_second_mm3, 30, 3);
  const StockDifference same = stock_difference(fine, fine.clone());
  EXPECT_EQ(same.worst_mm, 0);
  EXPECT_EQ(same.only_first_mm3, 0);
}

// A groove half as wide as deep: from the old face its walls are near, from its floor the old face
// is as far as it is deep. The larger of both counts, whichever stock is named first.
TEST(StockDifference, ANarrowGrooveIsAsDeepAsItIs) {
  const Stock one = Stock::box(Vec3(20, 20, 10), 0.2);
  Stock two = one.clone();
  const Box3 groove[] = {Box3(Vec3(9.9, -1, 9.5), Vec3(10.1, 21, 11))};
  remove_boxes(two, groove);
  for (const StockDifference& d : {stock_difference(one, two), stock_difference(two, one)}) {
    EXPECT_NEAR(d.worst_mm, 0.5, 0.1 * 0.2);
    EXPECT_NEAR(d.worst_at.x(), 10, 0.2);
    EXPECT_FALSE(d.beyond_reach);
  }
}

TEST(StockDifference, BeyondTheBandSaysSo) {
  Stock one = Stock::box(Vec3(20, 20, 10), 0.2), two = one.clone();
  mill(two, 10, 5, 1);
  const StockDifference d = stock_difference(one, two);
  EXPECT_TRUE(d.beyond_reach);
  EXPECT_NEAR(d.worst_mm, 0.6, 1e-6);  // three voxels
  EXPECT_NEAR(d.only_first_mm3, 6 * 20 * 5, 0.005 * 600);
}

TEST(StockFile, KeepsEverythingAndCutsOn) {
  Stock kept = Stock::box(Vec3(20, 20, 10), 0.2);
  mill(kept, 7, 6, 1);
  const std::string bytes = stock::vdb_bytes(kept);
  EXPECT_EQ(bytes, stock::vdb_bytes(kept));  // no clock, no chance
  Diagnostics diagnostics;
  auto again = stock::read_vdb(bytes, "kept.vdb", diagnostics);
  ASSERT_TRUE(again) << to_text(diagnostics.all()[0]);
  EXPECT_DOUBLE_EQ(again->voxel(), kept.voxel());
  EXPECT_EQ(stock::vdb_bytes(*again), bytes);
  const stock::Cut a = mill(kept, 12, 4, 2), b = mill(*again, 12, 4, 2);
  EXPECT_EQ(a.motions[0].removed_mm3, b.motions[0].removed_mm3);
  EXPECT_EQ(stock::vdb_bytes(*again), stock::vdb_bytes(kept));
}

TEST(StockFile, OtherBytesAreRefused) {
  const std::string bytes = stock::vdb_bytes(Stock::box(Vec3(5, 5, 5), 0.5));
  for (const std::string& bad :
       {std::string(), std::string("no stock"), bytes.substr(0, bytes.size() / 2)}) {
    Diagnostics diagnostics;
    EXPECT_FALSE(stock::read_vdb(bad, "bad.vdb", diagnostics));
    ASSERT_EQ(diagnostics.all().size(), 1u);
    EXPECT_EQ(diagnostics.all()[0].code, "stock-unreadable");
  }
}

}  // namespace
}  // namespace proveout::measure
