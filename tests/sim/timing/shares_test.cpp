// What binds, by share: the shares add up to the time, and a machine made for one of them shows it
// there and nowhere else.
#include "sim/timing/shares.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>
#include <random>
#include <set>
#include <string>

namespace proveout::timing {
namespace {

nc::Program path(const std::vector<Vec3>& points, double feed) {
  nc::Program p;
  p.states.emplace_back();
  for (std::size_t i = 1; i < points.size(); ++i) {
    nc::Motion m;
    m.kind = feed > 0 ? nc::PathKind::line : nc::PathKind::rapid;
    m.start = points[i - 1];
    m.end = points[i];
    m.feed = feed;
    p.motions.push_back(m);
  }
  return p;
}

job::Machine quick() {
  job::Machine m;
  m.max_feed = m.rapid = Vec3::Constant(1e5);
  m.accel = Vec3::Constant(1e7);
  m.path_tolerance = 10;
  m.lookahead = 0;
  return m;
}

std::array<double, share_count> of(const nc::Program& p, const job::Machine& m) {
  return shares(p, m, plan(p, m));
}
double at(const std::array<double, share_count>& s, Share share) {
  return s[static_cast<std::size_t>(share)];
}

TEST(Shares, AddUpToTheTime) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> u(-1, 1);
  for (int round = 0; round < 60; ++round) {
    std::vector<Vec3> points = {Vec3::Zero()};
    const double far = std::pow(10, u(random));
    for (int i = 0; i < 80; ++i)
      points.push_back(points.back() + far * Vec3(u(random), u(random), u(random)));
    nc::Program p = path(points, 3000);
    for (std::size_t i = 0; i < p.motions.size(); i += 9) p.motions[i].kind = nc::PathKind::rapid;
    job::Machine m;
    m.program_overhead_s = 3;
    m.jerk = Vec3::Constant(round % 2 == 0 ? 0 : 9000);
    m.block_rate = round % 3 == 0 ? 40 : 0;
    m.rapid_by_axis = round % 5 == 0;
    const Plan planned = plan(p, m);
    const auto s = shares(p, m, planned);
    EXPECT_NEAR(std::accumulate(s.begin(), s.end(), 0.0), planned.time_s, 1e-9 * planned.time_s);
    for (const double one : s) EXPECT_GE(one, 0);
  }
}

TEST(Shares, EachWhereItsMachineIsMadeForIt) {
  const nc::Program straight = path({{0, 0, 0}, {100, 0, 0}}, 3000);  // 2 s at 50 mm/s
  auto s = of(straight, quick());
  EXPECT_NEAR(at(s, Share::feed), 2, 1e-12);
  EXPECT_NEAR(at(s, Share::acceleration), 0, 1e-4);
  job::Machine m = quick();
  m.max_feed = Vec3::Constant(1500);  // half: 2 s more
  EXPECT_NEAR(at(of(straight, m), Share::axis_limit), 2, 1e-4);
  m = quick();
  m.accel = Vec3::Constant(100);  // v / a more: 0.5 s
  EXPECT_NEAR(at(of(straight, m), Share::acceleration), 0.5, 1e-9);
  m.jerk = Vec3::Constant(1000);  // and a / j more, both ramps together: 0.1 s
  EXPECT_NEAR(at(of(straight, m), Share::jerk), 0.1, 1e-6);
  EXPECT_NEAR(at(of(straight, m), Share::acceleration), 0.5, 1e-6);
  m = quick();
  m.block_rate = 0.25;  // 4 s for the block
  EXPECT_NEAR(at(of(straight, m), Share::block_rate), 2, 1e-4);
  m = quick();
  m.program_overhead_s = 7;
  EXPECT_EQ(at(of(straight, m), Share::waits), 7);
  EXPECT_NEAR(at(of(path({{0, 0, 0}, {100, 0, 0}}, 0), quick()), Share::rapid), 0.06, 1e-9);
  // A slow corner in the middle of a long way.
  m = quick();
  m.accel = Vec3::Constant(1000);
  m.path_tolerance = 1e-4;
  s = of(path({{0, 0, 0}, {50, 0, 0}, {50, 50, 0}, {100, 50, 0}, {100, 100, 0}}, 3000), m);
  EXPECT_GT(at(s, Share::corner), 0.05);
  // Round a circle of 1 mm ten times, 62.8 mm at most at 10 mm/s.
  nc::Program round = path({{1, 0, 0}, {1, 0, 0}}, 3000);
  round.motions[0].kind = nc::PathKind::arc;
  round.motions[0].sweep = 20 * pi;
  m = quick();
  m.arc_accel = 100;
  EXPECT_NEAR(at(of(round, m), Share::arc), 20 * pi * (1 / 10.0 - 1 / 50.0), 1e-3);
}

// Cut into short lines a way is slow with jerk because speeds stay low, not because ramps are
// longer for the speeds there are: all that the machine would not take without a jerk limit is
// jerk's.
TEST(Shares, JerkIsToldWhereItKeepsSpeedsLow) {
  std::vector<Vec3> points;
  for (int i = 0; i <= 400; ++i) points.push_back(Vec3(0.25 * i, 0, 0));
  const nc::Program pieces = path(points, 3000);
  job::Machine m = quick();
  m.accel = Vec3::Constant(1000);
  const auto free = of(pieces, m);
  const double without = plan(pieces, m).time_s;
  m.jerk = Vec3::Constant(5000);
  const double more = plan(pieces, m).time_s - without;
  ASSERT_GT(more, 0.5);
  const auto s = of(pieces, m);
  EXPECT_NEAR(at(s, Share::jerk), more, 0.01 * more);
  EXPECT_NEAR(at(s, Share::acceleration), at(free, Share::acceleration), 0.01 * more);
}

TEST(Shares, EachHasAWordOfItsOwn) {
  std::set<std::string> words;
  for (int i = 0; i < share_count; ++i)
    EXPECT_TRUE(words.insert(name(static_cast<Share>(i))).second);
}

}  // namespace
}  // namespace proveout::timing
