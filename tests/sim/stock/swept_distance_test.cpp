// The distance in double precision against the kernels' in single, and against its own promises:
// 1-Lipschitz, and zero on the swept body's surface.
#include "sim/stock/swept_distance.h"

#include <gtest/gtest.h>

#include <random>

#include "cutting_case.h"
#include "sim/stock/kernel.h"

namespace proveout::stock {
namespace {

using job::ToolShape;

struct Case {
  std::string what;
  job::Tool tool;
  nc::Motion motion;
};

std::vector<Case> cases() {
  std::vector<Case> all;
  const std::vector<std::pair<std::string, nc::Motion>> motions = {
      {"level", line({-3, 1, 0.4}, {5, 2.5, 0.4})},
      {"plunge", line({1, 1, 4}, {1, 1, -0.5})},
      {"still", line({1, 1, 0.2}, {1, 1, 0.2})},
      {"ramp down", line({-3, 1, 1.4}, {5, 2.5, 0.1})},
      {"ramp up, steep", line({0, 0, -1}, {1, 1, 2})},
      {"arc", arc({4, 0, 0.3}, {0, 0, 0.3}, 2.1)},
      {"arc, long, clockwise", arc({4, 0, 0.3}, {0, 0, 0.3}, -4.4)},
      {"circle", arc({4, 0, 0.3}, {0, 0, 0.3}, 2 * pi)},
      {"helix", arc({4, 0, 1.3}, {0, 0, 1.3}, 5.0, -1.5)},
      {"arc in zx", arc({0, 0, 4}, {0, 0, 0}, 1.2, 0, nc::Plane::zx)}};
  const auto add = [&](const std::string& what, job::Tool tool) {
    for (const auto& [name, motion] : motions) all.push_back({what + ", " + name, tool, motion});
  };
  add("flat", tool_of(ToolShape::flat, 3));
  add("ball", tool_of(ToolShape::ball, 3));
  job::Tool bull = tool_of(ToolShape::bull, 4);
  bull.corner_radius = 0.7;
  add("bull", bull);
  job::Tool vee = tool_of(ToolShape::vee, 4);
  vee.tip_angle = 60;
  add("vee", vee);
  job::Tool taper = tool_of(ToolShape::taper, 4);
  taper.tip_angle = 20;
  taper.tip_diameter = 2;
  add("taper", taper);
  return all;
}

// Kinds whose stored value is divided by its own slope near the surface differ beside it; the zero
// is the same (docs/engine.md).
TEST(SweptDistance, IsTheKernels) {
  std::mt19937 random(31);
  std::uniform_real_distribution<double> u(-7, 7);
  for (const Case& c : cases()) {
    const solid::ToolBody body = solid::make_tool_body(c.tool);
    const Profile profile = make_profile(body.flutes);
    const Sweep sweep = make_sweep(c.motion, profile);
    const SweptDistance exact(c.motion, profile);
    const bool divided = sweep.kind == SweepKind::ramp || sweep.kind == SweepKind::table;
    double worst = 0;
    Vec3 worst_at = Vec3::Zero();
    for (int i = 0; i < 400; ++i) {
      const Vec3 at(u(random), u(random), 0.5 * u(random));
      LocalSweep local;
      localise(sweep, at, 0.2, local);
      alignas(64) float x[kernel_lanes] = {}, y[kernel_lanes] = {}, z[kernel_lanes] = {},
                        out[kernel_lanes] = {};
      base_kernels().points(local, x, y, z, 1, out);
      const double d = exact.at(at);
      if (divided) {
        // Same sign, and never more than the distance it became by the division.
        if (std::abs(d) > 2e-3) {
          EXPECT_EQ(d < 0, out[0] < 0) << c.what << " seed 31 case " << i;
        }
        EXPECT_LE(std::abs(d), std::abs(double(out[0])) + 2e-3) << c.what << " seed 31 case " << i;
        continue;
      }
      if (std::abs(d - out[0]) > worst) worst_at = at;
      worst = std::max(worst, std::abs(d - out[0]));
    }
    EXPECT_LT(worst, 2e-5) << c.what << " at " << worst_at.transpose();
  }
}

TEST(SweptDistance, ChangesByNoMoreThanTheWayAndAsItsSlopeSays) {
  std::mt19937 random(32);
  std::uniform_real_distribution<double> u(-7, 7), small(-1, 1);
  for (const Case& c : cases()) {
    const solid::ToolBody body = solid::make_tool_body(c.tool);
    const Profile profile = make_profile(body.flutes);
    const SweptDistance exact(c.motion, profile);
    for (int i = 0; i < 150; ++i) {
      const Vec3 a(u(random), u(random), 0.5 * u(random));
      const Vec3 step = 0.3 * Vec3(small(random), small(random), small(random));
      const double here = exact.at(a);
      EXPECT_LE(std::abs(exact.at(a + step) - here), step.norm() + 1e-7)
          << c.what << " seed 32 case " << i;
      const Nearness n = exact.near(a);
      EXPECT_NEAR(n.distance, here, 1e-9) << c.what;
      // Where one face is clearly the nearest the slope is that of differences.
      if (n.gap < 0.01) continue;
      const double h = 1e-5;
      for (int k = 0; k < 3; ++k) {
        const Vec3 e = h * Vec3::Unit(k);
        EXPECT_NEAR(n.slope[k], (exact.at(a + e) - exact.at(a - e)) / (2 * h), 2e-4)
            << c.what << " seed 32 case " << i << " at " << a.transpose();
      }
    }
  }
}

}  // namespace
}  // namespace proveout::stock
