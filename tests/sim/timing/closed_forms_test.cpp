// Times against closed forms: Biagiotti and Melchiorri, "Trajectory Planning for Automatic Machines
// and Robots", chapter 3 (trapezoids, S-curves), and arithmetic from the rules in docs/timing.md.
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>

#include "sim/timing/limits.h"
#include "sim/timing/plan.h"

namespace proveout::timing {
namespace {

job::Machine machine(double speed, double accel, double jerk = 0) {
  job::Machine m;
  m.max_feed = m.rapid = Vec3::Constant(speed * 60);
  m.accel = Vec3::Constant(accel);
  m.jerk = Vec3::Constant(jerk);
  m.lookahead = 0;
  m.path_tolerance = 0.01;
  return m;
}

nc::Motion move(const Vec3& a, const Vec3& b, double feed) {
  nc::Motion m;
  m.start = a;
  m.end = b;
  m.feed = feed;
  m.kind = feed > 0 ? nc::PathKind::line : nc::PathKind::rapid;
  return m;
}

nc::Program program(const std::vector<Vec3>& points, double feed) {
  nc::Program p;
  p.states.emplace_back();
  for (std::size_t i = 1; i < points.size(); ++i)
    p.motions.push_back(move(points[i - 1], points[i], feed));
  return p;
}

double time_of(double length, double speed, double accel, double jerk = 0) {
  return plan(program({{0, 0, 0}, {length, 0, 0}}, speed * 60), machine(1e4, accel, jerk)).time_s;
}

TEST(ClosedForms, RestToRest) {
  EXPECT_NEAR(time_of(100, 50, 500), 2.1, 2.1e-6);
  EXPECT_NEAR(time_of(10, 50, 500), 0.3, 3e-7);
  EXPECT_NEAR(time_of(5, 50, 500), 0.2, 2e-7);
  EXPECT_NEAR(time_of(1, 50, 500), 0.0894427191, 9e-8);
  EXPECT_NEAR(time_of(2, 50, 500), 0.126491106, 1.3e-7);
}

TEST(ClosedForms, SCurves) {
  EXPECT_NEAR(time_of(100, 50, 500, 10000), 2.15, 2.2e-6);
  EXPECT_NEAR(time_of(4, 50, 500, 10000), 0.235742, 1e-6);
  EXPECT_NEAR(time_of(0.5, 50, 500, 10000), 0.116961, 1e-6);
  EXPECT_NEAR(time_of(0.1, 50, 500, 10000), 0.0683990, 1e-6);
  EXPECT_NEAR(time_of(100, 2, 500, 10000), 50.02828, 1e-4);
}

// Each axis by its own ramp from rest to rest, the slowest counts (docs/timing.md): for a trapezoid
// way / speed + speed / acceleration, for a way too short for that 2 sqrt(way / acceleration).
TEST(ClosedForms, RapidsByAxis) {
  job::Machine m = machine(100, 500);
  m.rapid = Vec3(100, 50, 20) * 60;
  m.rapid_by_axis = true;
  const auto time = [&](const std::vector<Vec3>& points) { return plan(program(points, 0), m); };
  EXPECT_NEAR(time({{0, 0, 0}, {100, 50, 0}}).time_s, 1.2, 1e-6);    // x: 1 + 0.2, y: 1 + 0.1
  EXPECT_NEAR(time({{0, 0, 0}, {100, -70, 0}}).time_s, 1.5, 1e-6);   // y: 1.4 + 0.1
  EXPECT_NEAR(time({{0, 0, 0}, {100, 50, 30}}).time_s, 1.54, 1e-6);  // z: 1.5 + 0.04
  EXPECT_NEAR(time({{0, 0, 0}, {2, 0, 0.1}}).time_s, 0.126491106, 1e-6);
  // One after the other, each from rest to rest even where the way goes straight on.
  const Plan two = time({{0, 0, 0}, {100, 0, 0}, {200, 0, 0}});
  EXPECT_NEAR(two.time_s, 2.4, 1e-6);
  EXPECT_NEAR(two.motions[1].start_s, 1.2, 1e-6);
  m.rapid_override = 0.5;
  EXPECT_NEAR(time({{0, 0, 0}, {100, 50, 0}}).time_s, 2.1, 1e-6);  // 100 / 50 + 50 / 500
  m.rapid_override = 1;
  // With jerk, as in SCurves: 4 mm at 50 mm/s.
  m.jerk = Vec3::Constant(10000);
  EXPECT_NEAR(time({{0, 0, 0}, {0, 4, 0}}).time_s, 0.235742, 1e-6);
}

// What kept a motion from its feed, each with a path made for it; the words are those of
// result.json (docs/result-file.md).
TEST(SlowedBy, IsWhatTheMotionWasMadeFor) {
  const auto reason = [](const nc::Program& p, std::size_t motion, const job::Machine& m) {
    return std::string(name(plan(p, m).motions[motion].slowed_by));
  };
  const job::Machine m = machine(100, 500);
  const auto at_50 = [](const std::vector<Vec3>& points) { return program(points, 50 * 60); };
  const nc::Program straight = at_50({{0, 0, 0}, {50, 0, 0}, {100, 0, 0}, {150, 0, 0}});
  EXPECT_EQ(reason(straight, 1, m), "nothing");
  EXPECT_EQ(reason(straight, 0, m), "stop");  // starts from rest
  EXPECT_EQ(reason(at_50({{0, 0, 0}, {50, 0, 0}, {85, 35, 0}, {135, 35, 0}}), 1, m), "corner");
  // 50 mm/s takes 2.5 mm to reach and as much to leave: 4 mm are too few.
  EXPECT_EQ(reason(at_50({{0, 0, 0}, {4, 0, 0}}), 0, m), "short-block");
  job::Machine slow = m;
  slow.max_feed = Vec3(30, 100, 100) * 60;
  EXPECT_EQ(reason(straight, 1, slow), "axis-limit");
  job::Machine reads_slowly = m;
  reads_slowly.block_rate = 0.5;  // 50 mm in 2 s at best
  EXPECT_EQ(reason(straight, 1, reads_slowly), "block-rate");
  // Round a circle of 1 mm at 50 mm/s: 2500 mm/s2.
  nc::Program round = straight;
  nc::Motion arc = move({1, 0, 0}, {1, 0, 0}, 50 * 60);
  arc.kind = nc::PathKind::arc;
  arc.centre = Vec3::Zero();
  arc.sweep = 40 * pi;
  round.motions = {arc};
  EXPECT_EQ(reason(round, 0, m), "arc");
}

TEST(ClosedForms, BiagiottiMelchiorriExample3_9) {
  // q 0 -> 10, v0 1, v1 0, V 5, A 10, J 30: T = 2.71 (value from memory of the book, checked by
  // arithmetic).
  const double a = 10, j = 30, cruise = cruise_speed(1, 0, 5, 10, a, j);
  EXPECT_NEAR(cruise, 5, 1e-9);
  const double t = ramp_time(1, 5, a, j) + ramp_time(5, 0, a, j) +
                   (10 - ramp_length(1, 5, a, j) - ramp_length(5, 0, a, j)) / 5;
  EXPECT_NEAR(t, 2.71, 1e-6);
  EXPECT_NEAR(ramp_time(1, 5, a, j), 0.7333333, 1e-6);
}

TEST(ClosedForms, CornerSpeeds) {
  // Turn angles and speeds in mm/min for d 0.01, a 500 (calculated).
  const std::vector<std::pair<double, double>> rows = {{5, 4346.7},   {10, 2170.8}, {30, 714.32},
                                                       {45, 467.40},  {60, 341.11}, {90, 208.46},
                                                       {120, 134.16}, {150, 79.28}};
  for (const auto& [turn, speed] : rows) {
    const double t = turn / deg_per_rad;
    // The limit is the same in every direction only if the axes' limits are along u2 - u1: turn the
    // pair so.
    const Vec3 u1(std::cos(t / 2), std::sin(t / 2), 0), u2(std::cos(t / 2), -std::sin(t / 2), 0);
    EXPECT_NEAR(60 * corner_speed(u1, u2, 0.01, Vec3::Constant(500)), speed, 0.0001 * speed)
        << turn;
  }
  EXPECT_EQ(corner_speed(Vec3::UnitX(), -Vec3::UnitX(), 0.01, Vec3::Constant(500)), 0);
}

TEST(ClosedForms, FullCircles) {
  for (const auto& [radius, expected] : {std::pair{5.0, 1.610796}, std::pair{0.5, 0.230315}}) {
    nc::Program p;
    p.states.emplace_back();
    nc::Motion m = move({radius, 0, 0}, {radius, 0, 0}, 1200);
    m.kind = nc::PathKind::arc;
    m.sweep = 2 * pi;
    p.motions.push_back(m);
    EXPECT_NEAR(plan(p, machine(1e3, 500)).time_s, expected, 1e-6 * expected + 5e-7);
  }
}

TEST(ClosedForms, HandCheckableProgram) {
  // Acceleration 500 on each axis, rapid 3000; exact stop 9.972843 s with the limits along the
  // path. Here limits are per axis, so the diagonal rapid takes 0.3 s instead of 0.382843.
  nc::Program p;
  p.states.emplace_back();
  p.states[0].path_control = nc::PathControl::exact_stop;
  const Vec3 a(0, 0, 5), b(10, 10, 5), c(10, 10, -1), d(60, 10, -1), e(60, 40, -1), f(10, 40, -1);
  p.motions = {move(a, b, 0),    move(b, c, 300),  move(c, d, 1200),       move(d, e, 1200),
               move(e, f, 1200), move(f, c, 1200), move(c, {10, 10, 5}, 0)};
  EXPECT_NEAR(plan(p, machine(50, 500)).time_s, 9.972843 - 0.382843 + 0.3, 2e-6);
}

std::vector<Vec3> random_path(std::mt19937& random, int count) {
  std::uniform_real_distribution<double> step(-1, 1);
  std::vector<Vec3> points = {Vec3::Zero()};
  for (int i = 0; i < count; ++i) {
    points.push_back(points.back() +
                     Vec3(1 + step(random), step(random), 0.3 * step(random)) * 0.7);
  }
  return points;
}

TEST(Invariants, FasterLimitsAndMoreLookaheadNeverTakeLonger) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 random(seed);
    const nc::Program p = program(random_path(random, 300), 3000);
    for (double jerk : {0.0, 20000.0}) {
      job::Machine m = machine(100, 300, jerk);
      double before = 1e9;
      for (int lookahead : {1, 2, 4, 16, 64, 0}) {
        m.lookahead = lookahead;
        const double t = plan(p, m).time_s;
        EXPECT_LE(t, before * (1 + 1e-9))
            << "seed " << seed << " jerk " << jerk << " lookahead " << lookahead;
        before = t;
      }
      job::Machine faster = m;
      faster.accel *= 1.5;
      EXPECT_LE(plan(p, faster).time_s, before * (1 + 1e-9)) << "seed " << seed;
      faster = m;
      faster.max_feed *= 1.3;
      EXPECT_LE(plan(p, faster).time_s, before * (1 + 1e-9)) << "seed " << seed;
    }
  }
}

TEST(Invariants, SplittingAndReversing) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 random(seed);
    std::vector<Vec3> points = random_path(random, 100);
    const job::Machine m = machine(100, 300);
    const double t = plan(program(points, 3000), m).time_s;
    std::vector<Vec3> split = {points[0]};
    for (std::size_t i = 1; i < points.size(); ++i) {
      split.push_back(points[i - 1] + 0.37 * (points[i] - points[i - 1]));
      split.push_back(points[i]);
    }
    EXPECT_NEAR(plan(program(split, 3000), m).time_s, t, 1e-6 * t) << "seed " << seed;
    std::reverse(points.begin(), points.end());
    EXPECT_NEAR(plan(program(points, 3000), m).time_s, t, 1e-9 * t) << "seed " << seed;
  }
}

// A slow twin, written apart: on a fine grid of the path, the greatest speed curve under all
// limits, by repeated sweeps; time is the sum of ds over mean speed.
double brute_force_time(const std::vector<Vec3>& points, double feed, const job::Machine& m) {
  const double ds = 0.0005;
  std::vector<double> cap;
  std::vector<double> accel, step;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Vec3 way = points[i] - points[i - 1];
    const double length = way.norm();
    const Vec3 u = way / length;
    const int n = std::max(4, static_cast<int>(std::ceil(length / ds)));
    double corner = 0;
    if (i > 1) {
      const Vec3 before = (points[i - 1] - points[i - 2]).normalized();
      const double cosine = std::clamp(before.dot(u), -1.0, 1.0),
                   half = 0.5 * (pi - std::acos(cosine));
      const double radius = m.path_tolerance * std::sin(half) / (1 - std::sin(half));
      const Vec3 w = (u - before).normalized();
      double a = 1e18;
      for (int k = 0; k < 3; ++k)
        if (w[k] != 0) a = std::min(a, m.accel[k] / std::abs(w[k]));
      corner = std::sqrt(a * radius);
    }
    double v = feed / 60, a = 1e18;
    for (int k = 0; k < 3; ++k) {
      if (u[k] == 0) continue;
      v = std::min(v, m.max_feed[k] / 60 / std::abs(u[k]));
      a = std::min(a, m.accel[k] / std::abs(u[k]));
    }
    if (i == 1)
      cap.push_back(0);
    else
      cap.back() = std::min(std::min(cap.back(), corner), v);
    for (int k = 1; k <= n; ++k) {
      cap.push_back(v);
      accel.push_back(a);
      step.push_back(length / n);
    }
  }
  cap.back() = 0;
  for (std::size_t k = 1; k < cap.size(); ++k) {
    cap[k] = std::min(cap[k], std::sqrt(cap[k - 1] * cap[k - 1] + 2 * accel[k - 1] * step[k - 1]));
  }
  for (std::size_t k = cap.size() - 1; k > 0; --k) {
    cap[k - 1] = std::min(cap[k - 1], std::sqrt(cap[k] * cap[k] + 2 * accel[k - 1] * step[k - 1]));
  }
  double t = 0;
  for (std::size_t k = 1; k < cap.size(); ++k) t += 2 * step[k - 1] / (cap[k] + cap[k - 1]);
  return t;
}

TEST(BruteForce, RandomPathsWithinHalfAPercent) {
  for (unsigned seed = 1; seed <= 10; ++seed) {
    std::mt19937 random(seed);
    const std::vector<Vec3> points = random_path(random, 150);
    job::Machine m = machine(60, 400);
    m.accel = Vec3(400, 300, 120);
    m.max_feed = Vec3(3000, 2500, 900);
    const double t = plan(program(points, 2400), m).time_s;
    EXPECT_NEAR(t, brute_force_time(points, 2400, m), 0.005 * t) << "seed " << seed;
  }
}

TEST(Profile, SpeedAndTimeAgree) {
  for (double jerk : {0.0, 8000.0}) {
    const Plan p = plan(program({{0, 0, 0}, {7, 0, 0}, {9, 3, 0}}, 2400), machine(100, 500, jerk));
    for (std::size_t i = 0; i < 2; ++i) {
      const double length = i == 0 ? 7 : std::sqrt(13);
      double t = 0;
      const int n = 20000;
      for (int k = 0; k < n; ++k) {
        const double v = speed_at(p.motions[i], length, length * (k + 0.5) / n);
        if (v > 0) t += length / n / v;
        const double here = time_at(p.motions[i], length, length * (k + 1) / n);
        EXPECT_NEAR(here, t, 0.01) << jerk << " " << i << " " << k;
      }
      EXPECT_NEAR(time_at(p.motions[i], length, length), p.motions[i].time_s, 1e-12);
    }
  }
}

}  // namespace
}  // namespace proveout::timing
