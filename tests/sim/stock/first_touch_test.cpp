// First touches of a ball by the kernels, against stepping the body along its path until it holds
// the point.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <random>

#include "sim/stock/kernel.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

// A ball's cutting part as a body of its own: rounded, and as high as its flutes.
Profile ball(double radius, double flutes) {
  job::Tool t = tool_of(job::ToolShape::ball, 2 * radius);
  t.flute_length = flutes;
  t.stickout = flutes + 5;
  return make_profile(solid::make_tool_body(t).flutes);
}

struct Touched {
  double along, height;  // mm
};

Touched by_kernel(const nc::Motion& motion, const Profile& profile, const Vec3& point) {
  const Sweep sweep = make_sweep(motion, profile);
  LocalSweep local;
  localise(sweep, motion.start, 0.1, local);
  alignas(64) std::array<float, kernel_lanes> x{}, y{}, z{}, along{}, height{}, left{}, bearing{};
  const Vec3 at = point - motion.start;
  x[0] = static_cast<float>(at.x());
  y[0] = static_cast<float>(at.y());
  z[0] = static_cast<float>(at.z());
  Touches to{along.data(), height.data(), left.data(), bearing.data()};
  kernels().touches(local, x.data(), y.data(), z.data(), 1, to);
  return {along[0], height[0]};
}

// How deep a point lies in the body with its foot at the origin, mm; negative outside.
double depth_in(const Profile& p, const Vec3& at) {
  const double rho = std::hypot(at.x(), at.y());
  if (at.z() > p.top) return p.top - at.z();
  const double up = p.corner - at.z();
  return p.corner - (up > 0 ? std::hypot(rho, up) : rho);
}

std::optional<Touched> by_stepping(const nc::Motion& motion, const Profile& p, const Vec3& point) {
  constexpr int steps = 20000;
  const Vec3 path = motion.end - motion.start;
  std::optional<Touched> first;
  double deepest = -1;
  for (int i = 0; i <= steps; ++i) {
    const Vec3 at = point - (motion.start + path * (double(i) / steps));
    const double depth = depth_in(p, at);
    deepest = std::max(deepest, depth);
    if (!first && depth >= 0) first = Touched{path.norm() * i / steps, at.z()};
  }
  // What is only grazed is touched anywhere along the graze.
  return deepest > 0.05 * p.corner ? first : std::nullopt;
}

TEST(FirstTouch, GoingUpTheTopOfTheFlutesMustHaveComePast) {
  const Profile p = ball(3, 4.5);
  ASSERT_FLOAT_EQ(p.top, 4.5);
  const nc::Motion up = line({0, 0, 0}, {20, 0, 20});
  for (const double x : {5.0, 10.0}) {
    const Touched t = by_kernel(up, p, {x, 0, 12});
    EXPECT_NEAR(t.along, 7.5 * std::sqrt(2), 1e-4) << x;
    EXPECT_NEAR(t.height, 4.5, 1e-4) << x;
  }
}

TEST(FirstTouch, OfABallOnAnySlopeIsWhatSteppingFinds) {
  constexpr unsigned seed = 20261128;
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(-1, 1);
  int compared = 0;
  for (int n = 0; n < 3000; ++n) {
    const double radius = 2 + u(random);
    const Profile p = ball(radius, radius * (1.6 + u(random) * 0.5));
    const Vec3 from(u(random), u(random), u(random));
    Vec3 step(3 * u(random), 3 * u(random), n % 4 == 0 ? 0 : 3 * u(random));
    const nc::Motion m = line(from, from + step);
    const Vec3 point =
        from + step * (0.5 + 0.5 * u(random)) +
        Vec3(radius * u(random), radius * u(random), p.top * (0.5 + 0.7 * u(random)));
    const std::optional<Touched> truth = by_stepping(m, p, point);
    if (!truth || std::hypot(step.x(), step.y()) < 0.05) continue;
    const Touched found = by_kernel(m, p, point);
    ++compared;
    const double within = 1e-3 * radius + step.norm() / 20000;
    ASSERT_NEAR(found.along, truth->along, within)
        << fmt::format("seed {}, case {}: radius {}, top {}, step {} {} {}, point {} {} {}", seed,
                       n, radius, p.top, step.x(), step.y(), step.z(), point.x() - from.x(),
                       point.y() - from.y(), point.z() - from.z());
    ASSERT_NEAR(found.height, truth->height, within) << "seed " << seed << ", case " << n;
  }
  EXPECT_GT(compared, 1000);
}

}  // namespace
}  // namespace proveout::stock
