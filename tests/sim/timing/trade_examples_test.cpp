// Worked examples of shop practice: why length over feed is too low on small machines. Each figure
// is calculated from the rules in docs/timing.md by hand beside it; the examples themselves are
// common practice, no source.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <random>

#include "sim/timing/limits.h"
#include "sim/timing/plan.h"
#include "sim/timing/range.h"

namespace proveout::timing {
namespace {

job::Machine machine(double accel, double tolerance = 0.01) {
  job::Machine m;
  m.max_feed = m.rapid = Vec3::Constant(20000);
  m.accel = Vec3::Constant(accel);
  m.path_tolerance = tolerance;
  m.lookahead = 0;
  return m;
}

nc::Program program(const std::vector<Vec3>& points, double feed) {
  nc::Program p;
  p.states.emplace_back();
  for (std::size_t i = 1; i < points.size(); ++i) {
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.start = points[i - 1];
    m.end = points[i];
    m.feed = feed;
    p.motions.push_back(m);
  }
  return p;
}

// Back and forth on one line: a full stop at every end.
double raster_ratio(double stroke, double feed, double accel) {
  std::vector<Vec3> points;
  for (int i = 0; i <= 100; ++i) points.emplace_back(i % 2 == 0 ? 0 : stroke, 0, 0);
  const Plan p = plan(program(points, feed), machine(accel));
  return p.time_s / p.naive_s;
}

TEST(TradeExamples, ShortRasterStrokes) {
  // Calculated: 20 mm at 50 mm/s is 0.4 s; at 100 mm/s2 the feed is not reached: 2 sqrt(20 / 100) =
  // 0.894 s.
  EXPECT_NEAR(raster_ratio(20, 3000, 100), 2.24, 0.005);
  EXPECT_NEAR(raster_ratio(20, 3000, 300), 1.42, 0.005);
  EXPECT_NEAR(raster_ratio(20, 3000, 1000), 1.125, 0.005);
  EXPECT_NEAR(raster_ratio(60, 3000, 100), 1.42, 0.005);
  EXPECT_NEAR(raster_ratio(60, 3000, 300), 1.14, 0.005);
  EXPECT_NEAR(raster_ratio(60, 3000, 1000), 1.04, 0.005);
  EXPECT_NEAR(raster_ratio(20, 1500, 100), 1.31, 0.005);
  EXPECT_NEAR(raster_ratio(20, 1500, 300), 1.10, 0.005);
  EXPECT_NEAR(raster_ratio(20, 1500, 1000), 1.03, 0.005);
}

TEST(TradeExamples, CornerSpeeds) {
  // Calculated: a = 300 mm/s2, d = 0.01 mm, v = sqrt(a d s / (1 - s)), s the sine of half the
  // included angle. The figures are for an acceleration that is the same in every direction; here
  // it is that of the weaker axis, so at 90 degrees the bisector runs diagonally and the speed is
  // larger by the square root of sqrt 2.
  const double d = 0.01;
  for (const auto& [turn, mm_min] :
       {std::pair{2.0, 8400.0}, {10.0, 1680.0}, {20.0, 840.0}, {45.0, 360.0}, {90.0, 160.0}}) {
    const double t = turn * pi / 180;
    // Turned so that u2 - u1 lies along y, where no axis shares the load.
    const Vec3 u1(std::cos(t / 2), -std::sin(t / 2), 0), u2(std::cos(t / 2), std::sin(t / 2), 0);
    EXPECT_NEAR(60 * corner_speed(u1, u2, d, Vec3::Constant(300)), mm_min, 0.02 * mm_min) << turn;
  }
  const double diagonal = corner_speed(Vec3(1, 0, 0), Vec3(0, 1, 0), d, Vec3::Constant(300));
  const double along_axis =
      corner_speed(Vec3(std::sqrt(0.5), -std::sqrt(0.5), 0),
                   Vec3(std::sqrt(0.5), std::sqrt(0.5), 0), d, Vec3::Constant(300));
  EXPECT_NEAR(diagonal / along_axis, std::pow(2, 0.25), 1e-9);
}

TEST(TradeExamples, FacetsOfAnArcSlowItDown) {
  // Calculated: chord error e on radius R turns by 2 acos(1 - e / R) = 2 sqrt(2 e / R) a facet; v
  // <= sqrt(a R d / e).
  for (const auto& [e, mm_min] : {std::pair{0.01, 2320.0}, {0.05, 1040.0}}) {
    const double turn = 2 * std::acos(1 - e / 5);
    const Vec3 u1(std::cos(turn / 2), -std::sin(turn / 2), 0),
        u2(std::cos(turn / 2), std::sin(turn / 2), 0);
    EXPECT_NEAR(60 * corner_speed(u1, u2, 0.01, Vec3::Constant(300)), mm_min, 0.02 * mm_min) << e;
  }
}

TEST(TradeExamples, LookAheadCapsTheSpeed) {
  // Calculated: the machine must be able to stop within N queued blocks of length L: v <= sqrt(2 a
  // N L).
  for (const auto& [accel, mm_min] : {std::pair{300.0, 1860.0}, {100.0, 1070.0}}) {
    std::vector<Vec3> points;
    for (int i = 0; i <= 3000; ++i) points.emplace_back(0.1 * i, 0, 0);
    job::Machine m = machine(accel);
    m.lookahead = 16;
    const Plan p = plan(program(points, 6000), m);
    double fastest = 0;
    for (const auto& t : p.motions) fastest = std::max<double>(fastest, t.exit_speed);
    // At the start of a block its own length still counts, so the speed at joints is that of 15
    // blocks left.
    EXPECT_LE(60 * fastest, mm_min * 1.005) << accel;
    EXPECT_NEAR(60 * fastest, mm_min * std::sqrt(15.0 / 16), 0.01 * mm_min) << accel;
  }
}

TEST(TradeExamples, LineRateCapsTheFeed) {
  // Calculated: F <= 60 rate L; 0.05 mm blocks at 400 to 500 lines a second give 1200 to 1500
  // mm/min.
  for (const double rate : {400.0, 500.0}) {
    std::vector<Vec3> points;
    for (int i = 0; i <= 4000; ++i) points.emplace_back(0.05 * i, 0, 0);
    job::Machine m = machine(1e5);
    m.block_rate = rate;
    const Plan p = plan(program(points, 6000), m);
    EXPECT_NEAR(60 * 200 / p.time_s, 60 * rate * 0.05, 0.01 * 60 * rate * 0.05);
    EXPECT_EQ(p.motions[2000].slowed_by, SlowedBy::block_rate);
  }
}

TEST(TradeExamples, FourHundredRetracts) {
  // 400 hops: 10 mm up, 30 mm over, 10 mm down; z 1500 mm/min and 100 mm/s2, x and y 4000 and 300.
  // Calculated: up 10/25 + 25/100 = 0.65 s, over 30/66.7 + 66.7/300 = 0.672 s, down 0.65 s, stop at
  // each right angle: 400 x 1.972 s = 13.1 min. Length over rate: 400 x (0.4 + 0.45 + 0.4) s = 8.3
  // min; over the xy rate alone 5 min.
  nc::Program p;
  p.states.emplace_back();
  Vec3 at(0, 0, 0);
  for (int i = 0; i < 400; ++i) {
    for (const Vec3& step : {Vec3(0, 0, 10), Vec3(i % 2 == 0 ? 30 : -30, 0, 0), Vec3(0, 0, -10)}) {
      nc::Motion m;
      m.kind = nc::PathKind::rapid;
      m.start = at;
      at += step;
      m.end = at;
      p.motions.push_back(m);
    }
  }
  job::Machine m;
  m.rapid = m.max_feed = Vec3(4000, 4000, 1500);
  m.accel = Vec3(300, 300, 100);
  m.path_tolerance = 0;
  m.lookahead = 0;
  const Plan planned = plan(p, m);
  EXPECT_NEAR(planned.time_s, 400 * (0.65 + 30 / (4000 / 60.0) + (4000 / 60.0) / 300 + 0.65), 0.5);
  EXPECT_NEAR(planned.time_s / 60, 13, 0.2);
  EXPECT_NEAR(400 * 50 / (4000 / 60.0) / 60, 5, 0.01);
}

TEST(TradeExamples, RangeHoldsTheLikelyTime) {
  std::vector<Vec3> points;
  for (int i = 0; i <= 300; ++i) points.emplace_back(3.0 * i, i % 3, 0.2 * (i % 5));
  const TimeRange r = time_range(program(points, 2000), machine(250));
  EXPECT_LT(r.low_s, r.likely_s);
  EXPECT_GT(r.high_s, r.likely_s);
}

TEST(Invariants, SplittingReversingAndMoreLookAhead) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> u(-1, 1);
  for (int round = 0; round < 40; ++round) {
    std::vector<Vec3> points{Vec3(0, 0, 0)};
    for (int i = 0; i < 60; ++i)
      points.push_back(points.back() + Vec3(u(random), u(random), 0.3 * u(random)) * 4);
    const job::Machine m = machine(200 + 100 * round);
    const double whole = plan(program(points, 2500), m).time_s;
    // A straight move in two pieces.
    std::vector<Vec3> split;
    for (std::size_t i = 0; i < points.size(); ++i) {
      if (i > 0 && i % 7 == 0) split.push_back(0.3 * points[i - 1] + 0.7 * points[i]);
      split.push_back(points[i]);
    }
    EXPECT_NEAR(plan(program(split, 2500), m).time_s, whole, 1e-6 * whole) << "round " << round;
    // Backwards, without jerk.
    const std::vector<Vec3> back(points.rbegin(), points.rend());
    EXPECT_NEAR(plan(program(back, 2500), m).time_s, whole, 1e-6 * whole) << "round " << round;
    double before = 1e300;
    for (const int n : {1, 2, 4, 8, 16, 64, 0}) {
      job::Machine seeing = m;
      seeing.lookahead = n;
      const double t = plan(program(points, 2500), seeing).time_s;
      EXPECT_LE(t, before * (1 + 1e-9)) << "look-ahead " << n << " round " << round;
      before = t;
    }
    job::Machine faster = m;
    faster.accel *= 1.3;
    EXPECT_LE(plan(program(points, 2500), faster).time_s, whole * (1 + 1e-9));
    faster = m;
    faster.max_feed *= 1.2;
    EXPECT_LE(plan(program(points, 2500), faster).time_s, whole * (1 + 1e-9));
    faster = m;
    faster.path_tolerance *= 2;
    EXPECT_LE(plan(program(points, 2500), faster).time_s, whole * (1 + 1e-9));
    faster = m;
    faster.feed_override = 1.25;
    EXPECT_LE(plan(program(points, 2500), faster).time_s, whole * (1 + 1e-9));
  }
}

TEST(MachineFiles, AllReadAndAreOrdered) {
  // A livelier kind of machine is never slower on the same program.
  std::vector<Vec3> points;
  for (int i = 0; i <= 300; ++i) points.emplace_back(3.0 * i, i % 3, 0.2 * (i % 5));
  double before = 1e300;
  for (const char* name : {"light-belt-router", "ball-screw-router", "stiff-small-mill"}) {
    Diagnostics diagnostics;
    const auto m = job::read_machine(
        std::filesystem::path(PROVEOUT_FIXTURES) / "machines" / (std::string(name) + ".toml"),
        diagnostics);
    ASSERT_TRUE(m) << name;
    EXPECT_EQ(diagnostics.errors(), 0u);
    const double t = plan(program(points, 8000), *m).time_s;
    EXPECT_LT(t, before) << name;
    before = t;
  }
}

}  // namespace
}  // namespace proveout::timing
