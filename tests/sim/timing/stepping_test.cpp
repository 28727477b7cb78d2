// The planner against a slow twin written apart from it: ramps are stepped through time (jerk on,
// held, off), and the joint and cruise speeds are found by trying all of a fine grid (dynamic
// programming over the joints). Random straight paths with changing feeds, with and without a jerk
// limit; the two must agree within 0.5 %.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "sim/timing/plan.h"

namespace proveout::timing {
namespace {

constexpr int levels = 120;
constexpr double step_s = 2e-5;

struct Ramp {
  double time = 0, length = 0;
};

// From rest of acceleration to rest of acceleration, speed v0 up to v1, by stepping.
Ramp stepped(double v0, double v1, double a_most, double jerk) {
  Ramp r;
  double v = v0, a = jerk > 0 ? 0 : a_most;
  const double most_steps = 1e7;
  for (int n = 0; v < v1 - 1e-9 && n < most_steps; ++n) {
    if (jerk > 0) {
      // Ease off as soon as what is left of the acceleration would still reach the speed.
      const double left = v1 - v;
      a = a * a / (2 * jerk) >= left ? std::max(a - jerk * step_s, 1e-3 * a_most)
                                     : std::min(a + jerk * step_s, a_most);
    }
    double dt = step_s;
    if (v + a * dt > v1) dt = (v1 - v) / a;
    r.length += (v + 0.5 * a * dt) * dt;
    v += a * dt;
    r.time += dt;
  }
  return r;
}

class Twin {
 public:
  Twin(double fastest, double a, double jerk) : fastest_(fastest), table_(levels + 1) {
    for (int i = 0; i <= levels; ++i) {
      for (int k = 0; k <= levels; ++k) {
        table_[i].push_back(stepped(speed(std::min(i, k)), speed(std::max(i, k)), a, jerk));
      }
    }
  }
  double speed(int level) const { return fastest_ * level / levels; }
  // Least time over all joint and cruise speeds of the grid. feeds: levels.
  double time(const std::vector<double>& lengths, const std::vector<int>& feeds) const {
    std::vector<double> best(levels + 1, 1e300);
    best[0] = 0;
    for (std::size_t m = 0; m < lengths.size(); ++m) {
      const int last = m + 1 < lengths.size() ? std::min(feeds[m], feeds[m + 1]) : 0;
      std::vector<double> next(levels + 1, 1e300);
      for (int from = 0; from <= feeds[m]; ++from) {
        if (best[from] >= 1e300) continue;
        for (int to = 0; to <= last; ++to) {
          for (int cruise = std::max({from, to, 1}); cruise <= feeds[m]; ++cruise) {
            const double flat =
                lengths[m] - table_[from][cruise].length - table_[cruise][to].length;
            if (flat < -1e-9) break;
            const double t = best[from] + table_[from][cruise].time + table_[cruise][to].time +
                             flat / speed(cruise);
            next[to] = std::min(next[to], t);
          }
        }
      }
      best = next;
    }
    return best[0];
  }

 private:
  double fastest_;
  std::vector<std::vector<Ramp>> table_;
};

TEST(SteppedTwin, RandomPathsWithAndWithoutJerk) {
  const double fastest = 60, a = 400;
  for (const double jerk : {0.0, 4000.0}) {
    const Twin twin(fastest, a, jerk);
    std::mt19937 random(jerk > 0 ? 2 : 1);
    std::uniform_real_distribution<double> length(2, 25);
    std::uniform_int_distribution<int> feed(levels / 4, levels);
    for (int round = 0; round < 12; ++round) {
      std::vector<double> lengths;
      std::vector<int> feeds;
      nc::Program p;
      p.states.emplace_back();
      Vec3 at = Vec3::Zero();
      const Vec3 along = Vec3(1, 0, 0);
      for (int m = 0; m < 5; ++m) {
        lengths.push_back(length(random));
        feeds.push_back(feed(random));
        nc::Motion motion;
        motion.kind = nc::PathKind::line;
        motion.start = at;
        at += lengths.back() * along;
        motion.end = at;
        motion.feed = 60 * twin.speed(feeds.back());
        p.motions.push_back(motion);
      }
      job::Machine machine;
      machine.max_feed = Vec3::Constant(1e5);
      machine.accel = Vec3::Constant(a);
      machine.jerk = Vec3::Constant(jerk);
      machine.lookahead = 0;
      const double planned = plan(p, machine).time_s, tried = twin.time(lengths, feeds);
      EXPECT_NEAR(planned, tried, 0.005 * tried) << "jerk " << jerk << " round " << round;
    }
  }
}

}  // namespace
}  // namespace proveout::timing
