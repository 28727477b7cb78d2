// Room for round bores in a block of 60 x 40 x 12 mm with a pocket of 30 x 20 x 5 mm.
#include "sim/measure/bores.h"

#include <gtest/gtest.h>

#include <cmath>

#include "sim/solid/tool_body.h"

namespace proveout::measure {
namespace {

stock::Stock block(bool with_pocket) {
  stock::Stock stock = stock::Stock::box({60, 40, 12}, 0.5);
  if (!with_pocket) return stock;
  job::Tool flat;
  flat.number = 1;
  flat.shape = job::ToolShape::flat;
  flat.diameter = 6;
  flat.stickout = flat.flute_length = 20;
  const solid::ToolBody body = solid::make_tool_body(flat);
  std::vector<nc::Motion> motions;
  for (double y = 13; y <= 27; y += 3.5) {
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.start = Vec3(18, y, 7);
    m.end = Vec3(42, y, 7);
    m.feed = 500;
    motions.push_back(m);
  }
  const std::vector<stock::ToolRun> runs{{0, static_cast<std::uint32_t>(motions.size()), &body}};
  stock.cut(motions, runs, RigidMotion::Identity(), 1, {});
  return stock;
}

TEST(Bores, NoneGoesThroughAPocketsWall) {
  const std::vector<Bore> found = bores(block(true), RigidMotion::Identity(), 0.5, 2, 4);
  for (const Bore& b : found) {
    // How far the mouth's middle lies outside the pocket (in the plane), negative inside.
    const double dx = std::abs(b.at.x() - 30) - 15, dy = std::abs(b.at.y() - 20) - 10;
    const double out =
        std::max(dx, dy) < 0 ? std::max(dx, dy) : std::hypot(std::max(dx, 0.0), std::max(dy, 0.0));
    EXPECT_GE(std::abs(out), b.diameter / 2 + 1) << b.at.transpose() << ", " << b.diameter;
    EXPECT_NEAR(b.at.z(), out < 0 ? 7 : 12, 0.5);
    EXPECT_LE(b.depth, out < 0 ? 5.5 : 10.5);
  }
}

TEST(Bores, ThePlainBlockHasTheWidest) {
  const std::vector<Bore> found = bores(block(false), RigidMotion::Identity(), 0.5, 2, 1);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].diameter, 32);
  EXPECT_NEAR(found[0].depth, 10, 0.5);
}

}  // namespace
}  // namespace proveout::measure
