// Ramps with a jerk limit: the formulas against bisection of the ramp's length (which closed_forms
// and the stepped twin hold), and the planner, which goes back only as far as an answer changes,
// against one that starts from nothing for every motion.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "sim/timing/limits.h"
#include "sim/timing/plan.h"

namespace proveout::timing {
namespace {

double bisected(double low, double high, const std::function<double(double)>& length_of,
                double length) {
  for (int i = 0; i < 200; ++i) {
    const double middle = 0.5 * (low + high);
    (length_of(middle) <= length ? low : high) = middle;
  }
  return low;
}

TEST(Jerk, SpeedsAgainstBisectionOverManySizes) {
  std::mt19937 random(28);
  std::uniform_real_distribution<double> u(0, 1);
  const auto spread = [&](double low, double high) {
    return low * std::pow(high / low, u(random));
  };
  int cubic = 0, quadratic = 0, peaks = 0;
  for (int i = 0; i < 20000; ++i) {
    const double v = u(random) < 0.1 ? 0 : spread(1e-3, 1000), length = spread(1e-4, 1000),
                 a = spread(10, 1e4), j = spread(100, 1e6);
    SCOPED_TRACE(testing::Message() << "v " << v << " L " << length << " a " << a << " j " << j);
    const double fastest = std::sqrt(v * v + 2 * a * length);
    const double reached = reachable(v, length, a, j);
    const double other = bisected(
        v, fastest, [&](double w) { return ramp_length(v, w, a, j); }, length);
    ASSERT_NEAR(reached, other, 1e-12 * other);
    (reached - v < a * a / j ? cubic : quadratic) += 1;
    // A motion from v to v1 with a peak between: both ends that fit in its length.
    const double v1 = u(random) < 0.1 ? 0 : u(random) < 0.2 ? v : u(random) * reached;
    if (ramp_length(v, v1, a, j) > length) continue;
    const double base = std::max(v, v1), top = base * spread(1, 100) + spread(1e-3, 10);
    const auto both = [&](double w) { return ramp_length(v, w, a, j) + ramp_length(w, v1, a, j); };
    const double peak = cruise_speed(v, v1, top, length, a, j);
    const double tried = both(top) <= length ? top : bisected(base, top, both, length);
    ASSERT_NEAR(peak, tried, 1e-12 * tried) << "v1 " << v1 << " top " << top;
    if (peak < top) ++peaks;
  }
  EXPECT_GT(cubic, 1000);
  EXPECT_GT(quadratic, 1000);
  EXPECT_GT(peaks, 1000);
}

// Straight on along x, each stretch with a feed of its own; only lengths and feeds matter.
struct Path {
  std::vector<double> length, feed;  // mm, mm/s
};

nc::Program program_of(const Path& path) {
  nc::Program p;
  p.states.emplace_back();
  Vec3 at = Vec3::Zero();
  for (std::size_t i = 0; i < path.length.size(); ++i) {
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.start = at;
    at.x() += path.length[i];
    m.end = at;
    m.feed = 60 * path.feed[i];
    p.motions.push_back(m);
  }
  return p;
}

// The speeds at the joints, by the rules of docs/timing.md word for word: for each motion the known
// ones are gone through backwards from a stop.
std::vector<double> joints_of(const Path& path, std::size_t lookahead, double a, double j) {
  std::vector<double> joints = {0};
  const std::size_t n = path.length.size();
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t end = lookahead == 0 ? n : std::min(n, i + lookahead);
    double v = 0;
    for (std::size_t k = end; k-- > i + 1;)
      v = std::min({path.feed[k - 1], path.feed[k], reachable(v, path.length[k], a, j)});
    if (i + 1 == end) v = 0;
    joints.push_back(std::min(v, reachable(joints.back(), path.length[i], a, j)));
  }
  return joints;
}

TEST(Jerk, LookAheadIsThatOfTheRuleForEveryMotion) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> u(0, 1);
  for (int round = 0; round < 40; ++round) {
    Path path;
    const double far = std::pow(10, -1 + 2 * u(random));
    for (int i = 0; i < 300; ++i) {
      path.length.push_back(far * (0.05 + u(random)));
      path.feed.push_back(u(random) < 0.7 && i > 0 ? path.feed.back() : 5 + 95 * u(random));
    }
    job::Machine m;
    m.max_feed = Vec3::Constant(1e5);
    m.accel = Vec3::Constant(300 + 700 * u(random));
    m.jerk = Vec3::Constant(std::pow(10, 3 + 2 * u(random)));
    for (const int lookahead : {1, 2, 7, 32, 150, 0}) {
      m.lookahead = lookahead;
      const Plan planned = plan(program_of(path), m);
      const auto joints =
          joints_of(path, static_cast<std::size_t>(lookahead), m.accel.x(), m.jerk.x());
      for (std::size_t i = 0; i < planned.motions.size(); ++i)
        ASSERT_NEAR(planned.motions[i].exit_speed, joints[i + 1], 1e-6 * (1 + joints[i + 1]))
            << "round " << round << " look-ahead " << lookahead << " motion " << i;
    }
  }
}

}  // namespace
}  // namespace proveout::timing
