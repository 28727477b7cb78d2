// Form tools of many corners. A job file may give a profile of any length, so none may be cut off:
// a ball given by its corners must take what a ball takes (closed forms), and no tool may cut wider
// than it is. The radius of a profile is worked out anew here, in double precision, by the polyline
// itself.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>
#include <vector>

#include "sim/stock/distance_reader.h"
#include "sim/stock/sweep.h"
#include "tests/sim/stock/form_corners.h"

namespace proveout::stock {
namespace {

// A hemisphere of radius r by `count` corners on it, with a shank of its own width up to `height`.
Corners ball_corners(double r, int count, double height) {
  Corners corners;
  for (int k = 0; k < count; ++k) {
    const double a = 0.5 * pi * k / (count - 1);
    corners.emplace_back(r * std::sin(a), r * (1 - std::cos(a)));
  }
  corners.emplace_back(r, height);
  return corners;
}

// The widest the polyline is at a height.
double widest_at(const Corners& corners, double h) {
  double widest = 0;
  for (std::size_t i = 1; i < corners.size(); ++i) {
    const auto [r0, h0] = corners[i - 1];
    const auto [r1, h1] = corners[i];
    if (h < h0 || h > h1) continue;
    widest = std::max(widest, h1 > h0 ? r0 + (r1 - r0) * (h - h0) / (h1 - h0) : std::max(r0, r1));
  }
  return widest;
}

// A groove as deep as the radius, of length L: r^2 / 2 pi L and half a ball at each end, which stay
// inside the block; the tool comes from above at one end and leaves the same way.
TEST(FormTool, ABallOfManyCornersTakesWhatABallTakes) {
  const double r = 3, length = 12;
  const Vec3 block(26, 16, 8);
  const double exact = 0.5 * pi * r * r * length + 2.0 / 3 * pi * r * r * r;
  for (const int count : {25, 26, 47, 60, 200}) {
    const job::Tool tool = form_of(ball_corners(r, count, 12));
    const double z = block.z() - r;
    const double volume = removed(
        cut_box(block, 0.1, tool, {line({7, 8, z + r + 1}, {7, 8, z}), line({7, 8, z}, {19, 8, z})})
            .cut);
    // The polygon of `count` corners lies inside the circle: its area is less by (step)^2 / 6.
    const double step = 0.5 * pi / (count - 1);
    EXPECT_NEAR(volume / exact, 1 - step * step / 6, 0.001) << count << " corners";
  }
}

// Corners at random, as many as one likes: nowhere wider than the polyline, and as wide as it.
TEST(FormTool, RadiusOfRandomProfiles) {
  std::mt19937 random(23);
  std::uniform_real_distribution<double> share(0, 1);
  for (const int count : {2, 5, 24, 25, 60, 500, 5000}) {
    Corners corners;
    double height = 0;
    for (int k = 0; k < count; ++k) {
      corners.emplace_back(0.2 + 4 * share(random), height);
      height += share(random) * 30 / count;
    }
    corners.emplace_back(2, height + 1);
    const solid::ToolBody body = solid::make_tool_body(form_of(corners));
    const Profile profile = make_profile(body.flutes);
    for (int k = 0; k < 200; ++k) {
      const double h = share(random) * corners.back().second;
      // Single precision, times the steepest side of these.
      const double narrow = std::min(widest_at(corners, h - 1e-5), widest_at(corners, h + 1e-5));
      const double wide = std::max(widest_at(corners, h - 1e-5), widest_at(corners, h + 1e-5));
      const double radius = profile.radius_at(static_cast<float>(h));
      EXPECT_GE(radius, narrow - 1e-3) << "seed 23, " << count << " corners, height " << h;
      EXPECT_LE(radius, wide + 1e-3) << "seed 23, " << count << " corners, height " << h;
    }
  }
}

// Level moves, ramps and plunges of random profiles: no voxel further from the path, seen from
// above, than the tool is wide loses anything.
TEST(FormTool, NothingIsCutWiderThanTheTool) {
  std::mt19937 random(29);
  std::uniform_real_distribution<double> share(0, 1);
  const Vec3 block(20, 16, 6);
  const double voxel = 0.25;
  for (const int count : {3, 24, 25, 40, 120}) {
    Corners corners;
    double height = 0;
    for (int k = 0; k < count; ++k) {
      corners.emplace_back(0.3 + 2.5 * share(random), height);
      height += share(random) * 12 / count;
    }
    corners.emplace_back(1, height + 2);
    const job::Tool tool = form_of(corners);
    const Vec3 from(6 + share(random), 7 + share(random), 3 + 2 * share(random));
    const Vec3 level = from + Vec3(7, 2 * share(random), 0), sloping = level - Vec3(0, 0, 1);
    for (const auto& [a, b] : {std::pair(from, level), std::pair(from, sloping),
                               std::pair(Vec3(from + Vec3(0, 0, 4)), from)}) {
      const Cutting done = cut_box(block, voxel, tool, {line(a, b)});
      const Stock untouched = Stock::box(block, voxel);
      const DistanceReader after(done.stock.fields()), before(untouched.fields());
      const Vec3 along = b - a;
      const double plan = std::hypot(along.x(), along.y());
      int wider = 0;
      for (int x = 0; x < 96; ++x) {
        for (int y = 0; y < 80; ++y) {
          for (int z = 0; z < 36; ++z) {
            const openvdb::Coord at(x, y, z);
            const Vec3 p = done.stock.fields().middle(at) - a;
            const double t =
                plan > 0
                    ? std::clamp((p.x() * along.x() + p.y() * along.y()) / (plan * plan), 0.0, 1.0)
                    : 0.0;
            const double away = std::hypot(p.x() - t * along.x(), p.y() - t * along.y());
            // A changed sign is material gone; half a diagonal of a voxel may round to it.
            wider +=
                away > tool.diameter / 2 + 0.01 * voxel && before.inside(at) && !after.inside(at);
          }
        }
      }
      EXPECT_EQ(wider, 0) << "seed 29, " << count << " corners";
      EXPECT_GT(removed(done.cut), 0) << "seed 29, " << count << " corners";
    }
  }
}

}  // namespace
}  // namespace proveout::stock
