#include "report/page/build/stock_surface.h"

#include <gtest/gtest.h>

#include <cmath>

#include "report/page/build/surface_error.h"

namespace proveout::page {
namespace {

// The box's twelve triangles.
mesh::Mesh box_mesh(const Vec3& low, const Vec3& high) {
  mesh::Mesh mesh;
  for (int k = 0; k < 8; ++k)
    mesh.vertices.emplace_back(k & 1 ? high[0] : low[0], k & 2 ? high[1] : low[1],
                               k & 4 ? high[2] : low[2]);
  for (const auto& [a, b, c, d] : std::array<std::array<std::uint32_t, 4>, 6>{
           {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}}) {
    mesh.triangles.push_back({a, b, c});
    mesh.triangles.push_back({a, c, d});
  }
  return mesh;
}

nc::Motion straight(const Vec3& start, const Vec3& end, std::uint32_t line) {
  nc::Motion motion;
  motion.kind = nc::PathKind::line;
  motion.start = start;
  motion.end = end;
  motion.line = line;
  motion.feed = 500;
  return motion;
}

// A 30 x 20 x 10 mm block with a ball groove of radius 2 along y = 10, its axis at the top face.
TEST(StockSurface, KnowsPlaceMotionAndDeviation) {
  job::Tool ball;
  ball.number = 1;
  ball.shape = job::ToolShape::ball;
  ball.diameter = 4;
  ball.stickout = ball.flute_length = 20;
  const solid::ToolBody body = solid::make_tool_body(ball);
  const std::vector<nc::Motion> motions{straight({-5, 10, 8}, {15, 10, 8}, 1),
                                        straight({15, 10, 8}, {40, 10, 8}, 2)};
  const std::vector<stock::ToolRun> uses{{0, 2, &body}};
  stock::Stock stock = stock::Stock::box({30, 20, 10}, 0.2);
  stock.cut(motions, uses, RigidMotion::Identity(), 7, {});

  // The part is half a millimetre lower than the block's top.
  const solid::PartDistance part(box_mesh(Vec3::Zero(), {30, 20, 9.5}));
  const Surface s = stock_surface(stock, &part, 20000);
  ASSERT_FALSE(s.empty());
  const std::size_t count = s.vertices.size() / 3;
  EXPECT_LT(count, 30000u);
  int groove[2] = {0, 0}, top = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const double x = s.vertices[3 * i], y = s.vertices[3 * i + 1], z = s.vertices[3 * i + 2];
    if (z < 9.2 && std::abs(y - 10) < 1.9 && z > 7.5 && x > 1 && x < 29) {
      ASSERT_NEAR(std::hypot(y - 10, z - 10), 2.0, 0.05) << "at " << x << ' ' << y << ' ' << z;
      // The second motion starts at x = 15 with the same ball, so it is in doubt for a radius about
      // there.
      if (x < 12.5) {
        ASSERT_EQ(s.made_by[i], 7u) << x;
        ++groove[0];
      }
      if (x > 17.5) {
        ASSERT_EQ(s.made_by[i], 8u) << x;
        ++groove[1];
      }
    }
    if (z > 9.9 && std::abs(y - 10) > 3 && y > 1 && y < 19 && x > 1 && x < 29) {
      ASSERT_NEAR(z, 10, 1e-3);
      ASSERT_EQ(s.made_by[i], 0u);
      ASSERT_NEAR(s.deviation[i], 0.5, 2e-3);
      ++top;
    }
  }
  EXPECT_GT(groove[0], 50);
  EXPECT_GT(groove[1], 50);
  EXPECT_GT(top, 200);
}

Surface as_surface(const mesh::Mesh& mesh) {
  Surface surface;
  for (const Vec3& v : mesh.vertices)
    for (int a = 0; a < 3; ++a) surface.vertices.push_back(static_cast<float>(v[a]));
  for (const auto& t : mesh.triangles)
    surface.triangles.insert(surface.triangles.end(), t.begin(), t.end());
  return surface;
}

// Closed form: a box mesh half a millimetre too high or too low is 0.5 mm off over its top, and the
// mean over the surface is 0.5 mm times the top's share of it. The field rounds the box's edges by
// less than a voxel's half diagonal.
TEST(SurfaceError, OfBoxesOfAnotherHeight) {
  const double voxel = 0.2, rounding = 0.1 * std::sqrt(3);
  const stock::Stock stock = stock::Stock::box({30, 20, 10}, voxel);
  const SurfaceError right = surface_error(stock, as_surface(box_mesh(Vec3::Zero(), {30, 20, 10})));
  EXPECT_LT(right.furthest, rounding);
  EXPECT_LT(right.mean, 0.01 * voxel);
  const double top = 30 * 20, all = 2 * (30 * 20 + 30 * 10 + 20 * 10);
  for (const double off : {0.5, -0.5}) {
    const SurfaceError e =
        surface_error(stock, as_surface(box_mesh(Vec3::Zero(), {30, 20, 10 + off})));
    EXPECT_GE(e.furthest, 0.5 - 1e-6) << off;
    // The way down the slope is to a place of the surface, beside a corner not to the nearest one.
    EXPECT_LT(e.furthest, 0.5 + rounding + 0.25 * voxel) << off;
    // Beside the edges the nearest side is nearer than the top: half a millimetre's strip of it.
    EXPECT_NEAR(e.mean, 0.5 * top / all, 0.06 * 0.5 * top / all) << off;
    // One point a voxel of area, since each axis looks at its own faces.
    EXPECT_NEAR(static_cast<double>(e.points), all / (voxel * voxel), 0.03 * all / (voxel * voxel));
  }
}

// A hole in the surface or a spike on it is seen, too: the first from the field, the other from the
// mesh.
TEST(SurfaceError, SeesHolesAndSpikes) {
  const stock::Stock stock = stock::Stock::box({30, 20, 10}, 0.25);
  mesh::Mesh open = box_mesh(Vec3::Zero(), {30, 20, 10});
  open.triangles.erase(open.triangles.begin() + 2, open.triangles.begin() + 4);  // the top
  // The middle of the top is 10 mm from the nearest side.
  EXPECT_NEAR(surface_error(stock, as_surface(open)).furthest, 10, 0.25);
  Surface spiked = stock_surface(stock, nullptr, 20000);
  const double before = surface_error(stock, spiked).furthest;
  EXPECT_LT(before, 0.5);
  std::size_t highest = 0;
  for (std::size_t i = 0; i < spiked.vertices.size() / 3; ++i) {
    if (std::hypot(spiked.vertices[3 * i] - 15, spiked.vertices[3 * i + 1] - 10,
                   spiked.vertices[3 * i + 2] - 10) <
        std::hypot(spiked.vertices[3 * highest] - 15, spiked.vertices[3 * highest + 1] - 10,
                   spiked.vertices[3 * highest + 2] - 10))
      highest = i;
  }
  spiked.vertices[3 * highest + 2] += 0.6f;
  EXPECT_NEAR(surface_error(stock, spiked).furthest, 0.6, 1e-3);
}

}  // namespace
}  // namespace proveout::page
