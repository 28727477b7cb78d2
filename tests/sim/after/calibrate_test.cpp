// Calibration: figures put into a machine must come back out of its times; what runs cannot tell
// must be said; and four programs timed on one production machine (NIST Smart Manufacturing Systems
// Test Bed, technical data packages, repository usnistgov/smstestbed) must be planned within 3 % by
// one machine file, within 6 % when left out.
#include "sim/after/calibrate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <random>
#include <set>

#include "parser/job/job.h"
#include "parser/nc/program.h"
#include "sim/timing/plan.h"
#include "tests/sim/after/timed_programs.h"

namespace proveout::after {
namespace {

namespace fs = std::filesystem;

std::vector<TimedRun> runs_on(const job::Machine& machine, int count, int changes) {
  std::vector<TimedRun> runs;
  for (int i = 0; i < count; ++i) {
    TimedRun r;
    r.name = "run " + std::to_string(i);
    r.program = random_program(40 + i, 400 + 150 * i, changes == 0 ? 0 : 1 + i % 4);
    r.feed_override = i % 3 == 2 ? 0.7 : 1;
    job::Machine m = machine;
    m.feed_override *= r.feed_override;
    r.measured_s = timing::plan(*r.program, m).time_s;
    runs.push_back(std::move(r));
  }
  return runs;
}

job::Machine guessed_machine() {
  job::Machine m = known_machine();
  m.accel *= 2.2;
  m.rapid *= 0.6;
  m.path_tolerance = 0.03;
  m.tool_change_s = 90;
  m.program_overhead_s = 2;
  return m;
}

TEST(Calibrate, KnownFiguresComeBack) {
  const auto runs = runs_on(known_machine(), 10, 1);
  Options options;
  options.figures = {Figure::acceleration, Figure::path_tolerance, Figure::rapid,
                     Figure::tool_change, Figure::overhead};
  options.expected_error = 1e-4;
  const Calibration c = fit(guessed_machine(), runs, options);
  for (const Fitted& f : c.fitted) {
    const double truth = value_of(f.figure, known_machine());
    EXPECT_NEAR(f.after, truth, 0.02 * truth) << name(f.figure);
    EXPECT_TRUE(f.told_by_data) << name(f.figure);
  }
  for (const Residual& r : c.residuals)
    EXPECT_NEAR(r.after_s, r.measured_s, 1e-3 * r.measured_s) << r.run;
}

// What only some machine files give: how fast the control reads blocks, and how long the spindle
// takes. Both come back, from a wrong start and from none.
TEST(Calibrate, SpindleAndBlockRateComeBack) {
  job::Machine truth = known_machine();
  truth.spindle.spin_up_s = 6;
  truth.block_rate = 40;
  std::vector<TimedRun> runs = runs_on(truth, 6, 0);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    // Started once and turned round i times.
    auto p = std::make_shared<nc::Program>(*runs[i].program);
    for (std::size_t k = 0; k <= i; ++k) {
      nc::ModalState s = p->states.back();
      s.turn = k % 2 == 0 ? nc::SpindleTurn::clockwise : nc::SpindleTurn::counter_clockwise;
      p->states.push_back(s);
      nc::Event e;
      e.kind = nc::EventKind::spindle;
      e.before_motion = 50 * k;
      e.state = static_cast<std::uint32_t>(p->states.size() - 1);
      p->events.push_back(e);
    }
    runs[i].program = p;
    job::Machine m = truth;
    m.feed_override *= runs[i].feed_override;
    const double before = runs[i].measured_s;
    runs[i].measured_s = timing::plan(*p, m).time_s;
    ASSERT_GT(runs[i].measured_s, before + 6 * static_cast<double>(i)) << "the case tests nothing";
  }
  Options options;
  options.figures = {Figure::spin_up, Figure::block_rate};
  options.expected_error = 1e-4;
  job::Machine wrong = truth, none = truth;
  wrong.spindle.spin_up_s = 2;
  wrong.block_rate = 90;
  none.spindle.spin_up_s = 0;
  for (const job::Machine& start : {wrong, none}) {
    const Calibration c = fit(start, runs, options);
    ASSERT_EQ(c.fitted.size(), 2u);
    EXPECT_NEAR(c.fitted[0].after, 6, 0.02 * 6);
    EXPECT_NEAR(c.fitted[1].after, 40, 0.02 * 40);
  }
}

TEST(Calibrate, TheTruthLiesWithinThreeSigmaOfNoisyRuns) {
  for (unsigned seed = 1; seed <= 5; ++seed) {
    auto runs = runs_on(known_machine(), 10, 1);
    std::mt19937 random(seed);
    std::normal_distribution<double> noise(0, 0.01);
    for (TimedRun& r : runs) r.measured_s *= 1 + noise(random);
    Options options;
    options.figures = {Figure::acceleration, Figure::tool_change};
    job::Machine start = known_machine();
    start.accel *= 1.8;
    start.tool_change_s = 20;
    const Calibration c = fit(start, runs, options);
    for (const Fitted& f : c.fitted) {
      const double off = std::abs(std::log(f.after / value_of(f.figure, known_machine())));
      EXPECT_LT(off, 3 * std::log(f.factor)) << name(f.figure) << " seed " << seed;
    }
  }
}

TEST(Calibrate, SaysWhatTheRunsCannotTell) {
  const auto runs = runs_on(known_machine(), 6, 0);  // no tool change anywhere
  Options options;
  options.figures = {Figure::acceleration, Figure::tool_change};
  const Calibration c = fit(guessed_machine(), runs, options);
  EXPECT_TRUE(c.fitted[0].told_by_data);
  EXPECT_FALSE(c.fitted[1].told_by_data);
  EXPECT_NEAR(c.fitted[1].after, guessed_machine().tool_change_s, 1e-3);  // stays what it was
}

TEST(Calibrate, NamesFiguresThatOnlyCountTogether) {
  std::vector<TimedRun> runs;
  for (const auto& r : runs_on(known_machine(), 10, 1)) {
    if (r.program->events.size() == 1)
      runs.push_back(r);  // one change each: change and overhead are one sum
  }
  ASSERT_GE(runs.size(), 2u);
  Options options;
  options.figures = {Figure::tool_change, Figure::overhead};
  options.expected_error = 1e-3;
  const Calibration c = fit(guessed_machine(), runs, options);
  ASSERT_EQ(c.entangled.size(), 1u);
  EXPECT_EQ(c.entangled[0].first, Figure::tool_change);
  EXPECT_EQ(c.entangled[0].second, Figure::overhead);
}

TEST(Calibrate, ALogAloneTellsTheAcceleration) {
  const job::Machine truth = known_machine();
  TimedRun run;
  run.name = "logged";
  run.program = random_program(43, 500, 0);
  const timing::Plan plan = timing::plan(*run.program, truth);
  for (std::size_t i = 0; i < run.program->motions.size(); i += 4) {
    run.log.push_back(
        {run.program->motions[i].line, plan.motions[i].start_s, plan.motions[i].cruise_speed});
  }
  job::Machine start = truth;
  start.accel *= 2.5;
  Options options;
  options.figures = {Figure::acceleration};
  const Calibration c = fit(start, std::span(&run, 1), options);
  EXPECT_NEAR(c.fitted[0].after, truth.accel.x(), 0.02 * truth.accel.x());
}

// Rows of a log that the program cannot have made (another file's, a subprogram's) tell nothing and
// spoil nothing.
TEST(Calibrate, LinesTheProgramDoesNotHaveTellNothing) {
  const job::Machine truth = known_machine();
  TimedRun run;
  run.name = "logged";
  run.program = random_program(43, 300, 0);
  const timing::Plan plan = timing::plan(*run.program, truth);
  for (std::size_t i = 0; i < run.program->motions.size(); i += 4) {
    run.log.push_back({run.program->motions[i].line, plan.motions[i].start_s, 0});
    if (i % 40 == 20) run.log.push_back({90'000, plan.motions[i].start_s + 0.01, 0});
  }
  job::Machine start = truth;
  start.accel *= 2;
  Options options;
  options.figures = {Figure::acceleration};
  const Calibration c = fit(start, std::span(&run, 1), options);
  EXPECT_NEAR(c.fitted[0].after, truth.accel.x(), 0.02 * truth.accel.x());
  EXPECT_TRUE(c.residuals.empty());  // of runs with a time of their own
  // A log of two rows times nothing.
  run.log.resize(2);
  const Calibration untold = fit(start, std::span(&run, 1), options);
  EXPECT_FALSE(untold.fitted[0].told_by_data);
  EXPECT_NEAR(untold.fitted[0].after, start.accel.x(), 1e-6 * start.accel.x());
}

// The words stand in docs/timing.md and on the command line: none may be shared.
TEST(Calibrate, EveryFigureHasAWordOfItsOwnAndAUnit) {
  std::set<std::string> words;
  for (const Figure f : all_figures) {
    EXPECT_TRUE(words.insert(name(f)).second) << name(f);
    EXPECT_NE(std::string(unit(f)), "") << name(f);
  }
  EXPECT_EQ(std::string(unit(Figure::path_tolerance)), "mm");
  EXPECT_EQ(std::string(unit(Figure::tool_change)), "s");
  EXPECT_EQ(std::string(unit(Figure::block_rate)), "1/s");
}

// ---- the production machine

Options fit_options() {
  Options options;
  options.figures = {Figure::acceleration, Figure::path_tolerance, Figure::tool_change,
                     Figure::overhead};
  return options;
}

TEST(ProductionMill, OneMachineFileFitsAllFourPrograms) {
  Diagnostics diagnostics;
  const auto machine = job::read_machine(
      fs::path(PROVEOUT_FIXTURES) / "machines" / "production-mill.toml", diagnostics);
  ASSERT_TRUE(machine);
  const auto runs = timed_runs(*machine);
  if (runs.empty()) GTEST_SKIP() << "the timed programs are not here (PROVEOUT_FIELD_DATA)";
  for (const TimedRun& r : runs) {
    EXPECT_NEAR(timing::plan(*r.program, *machine).time_s, r.measured_s, 0.03 * r.measured_s)
        << r.name;
  }
  // And it is what the fit gives.
  const Calibration c = fit(start_of_fit(), runs, fit_options());
  for (const Fitted& f : c.fitted) {
    EXPECT_NEAR(f.after, value_of(f.figure, *machine), 1e-3 * f.after) << name(f.figure);
  }
}

TEST(ProductionMill, EachProgramLeftOutOfTheFitIsPlannedWithinSixPercent) {
  const auto runs = timed_runs(start_of_fit());
  if (runs.empty()) GTEST_SKIP() << "the timed programs are not here (PROVEOUT_FIELD_DATA)";
  for (std::size_t out = 0; out < runs.size(); ++out) {
    std::vector<TimedRun> others;
    for (std::size_t i = 0; i < runs.size(); ++i) {
      if (i != out) others.push_back(runs[i]);
    }
    const Calibration c = fit(start_of_fit(), others, fit_options());
    EXPECT_NEAR(timing::plan(*runs[out].program, c.machine).time_s, runs[out].measured_s,
                0.06 * runs[out].measured_s)
        << runs[out].name;
  }
}

}  // namespace
}  // namespace proveout::after
