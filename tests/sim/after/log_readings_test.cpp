// Logs of a control, read now and then: the machine comes back out of them although a reading
// seldom meets a line's top speed; the log of a production machine's run (NIST Smart Manufacturing
// Systems Test Bed, technical data packages) leaves its fit where the runs put it; a log of another
// program, in other units or out of order is told.
#include "sim/after/log_readings.h"

#include <gtest/gtest.h>
#include <zlib.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <random>
#include <sstream>

#include "sim/timing/plan.h"
#include "tests/sim/after/timed_programs.h"

namespace proveout::after {
namespace {

namespace fs = std::filesystem;

// What a control tells every `every` s of a program's run on that machine.
std::vector<Reading> watched(const nc::Program& program, const job::Machine& machine,
                             double every) {
  const timing::Plan plan = timing::plan(program, machine);
  std::vector<Reading> out;
  std::size_t i = 0;
  for (double t = plan.motions.front().start_s; t < plan.time_s; t += every) {
    while (i + 1 < plan.motions.size() && plan.motions[i + 1].start_s <= t) ++i;
    const nc::Motion& m = program.motions[i];
    const timing::TimedMotion& timed = plan.motions[i];
    const double length = nc::length(m), into = std::min(t - timed.start_s, timed.time_s);
    double low = 0, high = length;
    for (int k = 0; k < 40; ++k) {
      const double middle = (low + high) / 2;
      (timing::time_at(timed, length, middle) <= into ? low : high) = middle;
    }
    out.push_back({t, m.line, timing::speed_at(timed, length, low), 0});
  }
  return out;
}

TEST(LogReadings, PassagesTopsAndWhetherTheyWereHeld) {
  const std::vector<Reading> readings = {{0, 0, 9, 0},    {1, 3, 10, 0},   {2, 3, 30, 0},
                                         {3, 3, 29.8, 0}, {4, 3, 29.9, 0}, {5, 4, 12, 0},
                                         {6, 4, -1, 0},   {7, 3, -1, 0}};
  const auto lines = logged_lines(readings);
  ASSERT_EQ(lines.size(), 3u);
  EXPECT_EQ(lines[0].line, 3u);
  EXPECT_EQ(lines[0].start_s, 1);
  EXPECT_EQ(lines[0].top_speed, 30);
  EXPECT_TRUE(lines[0].held);
  EXPECT_EQ(lines[1].top_speed, 12);
  EXPECT_FALSE(lines[1].held);
  EXPECT_EQ(lines[2].line, 3u);
  EXPECT_EQ(lines[2].top_speed, 0);
}

// Six times a second: passages are off by as much, tops are hardly met. From either side the
// acceleration comes back, by the log alone: near, as readings lean on each other.
TEST(LogReadings, ReadNowAndThenTheyTellTheAcceleration) {
  const job::Machine truth = known_machine();
  for (const double wrong : {0.4, 2.5}) {
    for (const unsigned seed : {40u, 43u}) {
      TimedRun run;
      run.name = "watched";
      run.program = random_program(seed, 600, 0);
      run.log = logged_lines(watched(*run.program, truth, 0.16));
      job::Machine start = truth;
      start.accel *= wrong;
      Options options;
      options.figures = {Figure::acceleration};
      const Calibration c = fit(start, std::span(&run, 1), options);
      EXPECT_NEAR(c.fitted[0].after, truth.accel.x(), 0.15 * truth.accel.x())
          << "start off by " << wrong << ", program " << seed;
      EXPECT_LT(std::abs(std::log(c.fitted[0].after / truth.accel.x())),
                3 * std::log(c.fitted[0].factor));
    }
  }
}

TEST(LogReadings, WhatIsNotOfThisProgramIsTold) {
  const job::Machine machine = known_machine();
  TimedRun run;
  run.name = "part.nc";
  run.program = random_program(41, 300, 0);
  const std::vector<Reading> readings = watched(*run.program, machine, 0.1);
  const auto told = [&](const std::vector<Reading>& r) {
    Diagnostics diagnostics;
    run.log = logged_lines(r);
    hold_against_program(run, "log.csv", diagnostics);
    std::vector<std::string> codes;
    for (const Diagnostic& d : diagnostics.all()) codes.push_back(d.code);
    return codes;
  };
  EXPECT_TRUE(told(readings).empty());
  for (const double unit : {25.4, 60.0, 1000.0, 0.1}) {  // in/min, mm/s, m/min as if mm/min; 10x
    std::vector<Reading> other = readings;
    for (Reading& r : other) r.speed /= unit;
    EXPECT_EQ(told(other), std::vector<std::string>{"runs-log-speed"}) << unit;
  }
  std::vector<Reading> other = readings;
  for (Reading& r : other) r.line += 10'000;
  EXPECT_EQ(told(other), std::vector<std::string>{"runs-log-lines"});
  // An override of a half is no unit.
  run.feed_override = 0.5;
  other = readings;
  for (Reading& r : other) r.speed /= 2;
  EXPECT_TRUE(told(other).empty());
  Diagnostics diagnostics;
  EXPECT_TRUE(in_order(readings, "log.csv", diagnostics));
  other = readings;
  std::swap(other[4].seconds, other[9].seconds);
  EXPECT_FALSE(in_order(other, "log.csv", diagnostics));
  EXPECT_EQ(diagnostics.errors(), 1u);
}

// ---- the production machine's log: `time|item|value`, three runs, the last of them cover.nc

double seconds_of_day(const std::string& stamp) {  // 2017-02-10T19:13:30.9662500Z
  return 3600 * std::stod(stamp.substr(11, 2)) + 60 * std::stod(stamp.substr(14, 2)) +
         std::stod(stamp.substr(17));
}

std::vector<Reading> log_of_cover() {
  const fs::path path = fs::path(PROVEOUT_FIELD_DATA) / "cover_15_log.txt.gz";
  const gzFile file = gzopen(path.c_str(), "rb");
  if (file == nullptr) return {};
  std::vector<Reading> out;
  Reading now;
  double began = 0;
  char row[256];
  while (gzgets(file, row, sizeof row) != nullptr) {
    std::istringstream in(row);
    std::string stamp, item, value;
    std::getline(in, stamp, '|');
    std::getline(in, item, '|');
    std::getline(in, value);
    if (item == "Program_Status" && value.starts_with("ACTIVE")) {
      out.clear();
      began = seconds_of_day(stamp);
      now = {};
    }
    now.seconds = seconds_of_day(stamp) - began;
    now.speed = -1;
    if (item == "Block_Number") now.line = static_cast<std::uint32_t>(std::stoul(value));
    if (item == "Feed_Rate") now.speed = std::stod(value);
    if (item == "Block_Number" || item == "Feed_Rate") out.push_back(now);
  }
  gzclose(file);
  return out;
}

struct Fits {
  Calibration without, with;
};

void expect_one_within_the_other(const Fits& f, double deviations) {
  for (std::size_t k = 0; k < f.with.fitted.size(); ++k) {
    const Fitted &a = f.without.fitted[k], &b = f.with.fitted[k];
    EXPECT_LT(std::abs(std::log(a.after / b.after)), deviations * std::log(b.factor))
        << name(a.figure) << " " << a.after << " without, " << b.after << " with the log";
  }
}

TEST(ProductionMill, TheLogOfOneRunLeavesTheFitNoWorse) {
  std::vector<TimedRun> runs = timed_runs(start_of_fit());
  const std::vector<Reading> readings = log_of_cover();
  if (runs.empty() || readings.empty())
    GTEST_SKIP() << "the timed programs are not here (PROVEOUT_FIELD_DATA)";
  ASSERT_GT(readings.size(), 500u);
  Diagnostics diagnostics;
  ASSERT_TRUE(in_order(readings, "log", diagnostics));
  std::vector<TimedRun> logged = runs;
  logged[0].log = logged_lines(readings);
  hold_against_program(logged[0], "log", diagnostics);
  EXPECT_TRUE(diagnostics.all().empty());
  Options options;
  options.figures = {Figure::acceleration, Figure::path_tolerance, Figure::tool_change,
                     Figure::overhead};
  const Fits four{fit(start_of_fit(), runs, options), fit(start_of_fit(), logged, options)};
  options.figures.push_back(Figure::arc_acceleration);
  const Fits five{fit(start_of_fit(), runs, options), fit(start_of_fit(), logged, options)};
  for (const Fits& f : {four, five}) {
    expect_one_within_the_other(f, 1);
    double worst_without = 0, worst_with = 0;
    for (std::size_t i = 0; i < runs.size(); ++i) {
      const auto off = [](const Residual& r) { return std::abs(r.after_s / r.measured_s - 1); };
      worst_without = std::max(worst_without, off(f.without.residuals[i]));
      worst_with = std::max(worst_with, off(f.with.residuals[i]));
    }
    EXPECT_LE(worst_with, worst_without);
    EXPECT_LT(worst_with, 0.005);
  }
}

}  // namespace
}  // namespace proveout::after
