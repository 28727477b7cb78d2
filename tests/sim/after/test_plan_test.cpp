// Programs to be timed by stopwatch: they stay in their box, take minutes, and their times give the
// figures of a machine back that nobody told. The machines are made up and their times planned,
// with an error as of a hand on a stopwatch; what the figures are worth then shows on other
// programs.
#include "sim/after/test_plan.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <random>

#include "parser/nc/word_places.h"
#include "sim/timing/plan.h"
#include "tests/sim/after/timed_programs.h"

namespace proveout::after {
namespace {

namespace fs = std::filesystem;

const std::vector<Figure> told = {
    Figure::acceleration,  Figure::path_tolerance, Figure::rapid,  Figure::tool_change,
    Figure::overhead,      Figure::block_rate,     Figure::jerk,   Figure::arc_acceleration,
    Figure::spindle_start, Figure::spindle_rate,   Figure::coolant};
const Vec3 box(400, 150, 50);  // so long that the rapid rate of each machine below is reached

// Few made-up machines; PROVEOUT_SOAK says how many at night, PROVEOUT_SOAK_SEED where they start.
unsigned number(const char* name, unsigned otherwise) {
  const char* const text = std::getenv(name);
  return text == nullptr ? otherwise : static_cast<unsigned>(std::atoi(text));
}
unsigned machines() { return number("PROVEOUT_SOAK", 2); }
unsigned first() { return number("PROVEOUT_SOAK_SEED", 1); }

job::Machine guess() {
  job::Machine m;
  m.max_feed = Vec3(6000, 6000, 3000);
  m.rapid = Vec3(9000, 9000, 4000);
  m.accel = Vec3(500, 500, 300);
  m.jerk = Vec3(10000, 10000, 6000);
  m.path_tolerance = 0.02;
  m.block_rate = 300;
  m.arc_accel = 300;
  m.tool_change_s = 20;
  m.program_overhead_s = 2;
  m.lookahead = 64;
  m.spindle.min_rpm = 3000;
  m.spindle.max_rpm = 18000;
  m.waits = {1, 0, 5000, 2, 0, 0};
  return m;
}

nc::Program read(const std::string& text) {
  Diagnostics diagnostics;
  auto traced = nc::read_traced(text, "plan", {}, diagnostics);
  EXPECT_TRUE(traced) << text.substr(0, 400);
  return traced ? std::move(traced->program) : nc::Program{};
}

// Every figure off by up to a factor of two.
job::Machine made_up(unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(-1, 1);
  const auto off = [&] { return std::exp(0.7 * u(random)); };
  job::Machine m = guess();
  m.accel *= off();
  m.jerk *= off();
  m.rapid *= off();
  m.path_tolerance *= off();
  m.block_rate *= off();
  m.arc_accel *= off();
  m.tool_change_s *= off();
  m.program_overhead_s *= off();
  m.waits.spindle_start_s *= off();
  m.waits.spindle_rpm_per_s *= off();
  m.waits.coolant_on_s *= off();
  return m;
}

std::vector<TimedRun> timed_on(const job::Machine& machine,
                               const std::vector<TestProgram>& programs, unsigned seed,
                               double stopwatch_s) {
  std::mt19937 random(seed);
  std::normal_distribution<double> hand(0, stopwatch_s);
  std::vector<TimedRun> runs;
  for (const TestProgram& p : programs) {
    TimedRun r;
    r.name = p.name;
    r.program = std::make_shared<const nc::Program>(read(p.text));
    r.measured_s = timing::plan(*r.program, machine).time_s + hand(random);
    runs.push_back(std::move(r));
  }
  return runs;
}

TEST(TestPlan, StaysInItsBoxAndTakesMinutes) {
  for (const Vec3& room : {box, Vec3(12, 10, 10), Vec3(40, 700, 20)}) {
    Diagnostics diagnostics;
    const auto programs = test_programs(guess(), told, room, 25, diagnostics);
    EXPECT_FALSE(diagnostics.has_errors());
    EXPECT_EQ(programs.size(), 12u);
    double all = 0;
    for (const TestProgram& p : programs) {
      SCOPED_TRACE(p.name);
      const nc::Program program = read(p.text);
      for (const nc::Motion& m : program.motions) {
        for (int k = 0; k < 2; ++k) {
          EXPECT_GE(nc::bounds(m).min()[k], -1e-9);
          EXPECT_LE(nc::bounds(m).max()[k], room[k] + 1e-9);
        }
        EXPECT_EQ(m.start.z(), m.end.z());
      }
      EXPECT_NEAR(timing::plan(program, guess()).time_s, p.expected_s, 1e-6 + 0.01 * p.expected_s);
      EXPECT_LE(p.expected_s, 60);
      all += p.expected_s;
    }
    EXPECT_LT(all, 360);
  }
  Diagnostics diagnostics;
  EXPECT_TRUE(test_programs(guess(), told, Vec3(9, 100, 100), 25, diagnostics).empty());
  EXPECT_EQ(diagnostics.errors(), 1u);
}

// However the machine's control reads numbers without a point and the unit of a wait, the programs
// ask the same of it.
TEST(TestPlan, AnyControlIsAskedTheSame) {
  Diagnostics diagnostics;
  const auto asked = test_programs(guess(), told, box, 25, diagnostics);
  for (const char* wait : {"milliseconds", "by-point"}) {
    for (const char* feed : {"feed-increment", "least-increment"}) {
      job::Machine machine = guess();
      machine.reads.declare(nc::Read::wait_p, wait);
      machine.reads.declare(nc::Read::lengths_without_point, "least-increment");
      machine.reads.declare(nc::Read::feeds_without_point, feed);
      const auto programs = test_programs(machine, told, box, 25, diagnostics);
      ASSERT_EQ(programs.size(), asked.size());
      for (std::size_t i = 0; i < programs.size(); ++i) {
        EXPECT_NEAR(programs[i].expected_s, asked[i].expected_s, 1e-9) << programs[i].name << wait;
        if (programs[i].name == "pauses.nc") {
          EXPECT_GT(programs[i].expected_s, 15) << wait;
        }
      }
    }
  }
}

TEST(TestPlan, OnlyWhatIsAskedFor) {
  Diagnostics diagnostics;
  const auto programs = test_programs(guess(), {Figure::rapid}, box, 25, diagnostics);
  ASSERT_EQ(programs.size(), 1u);
  EXPECT_EQ(programs[0].name, "rapids.nc");
  job::Machine no_speed = guess();
  no_speed.spindle.max_rpm = 0;
  EXPECT_TRUE(test_programs(no_speed, {Figure::spindle_rate}, box, 25, diagnostics).empty());
}

TEST(TestPlan, TheFiguresComeBackWithinThreePercent) {
  Diagnostics diagnostics;
  const auto programs = test_programs(guess(), told, box, 25, diagnostics);
  for (unsigned seed = first(); seed < first() + machines(); ++seed) {
    const job::Machine truth = made_up(seed);
    Options options;
    options.figures = told;
    options.expected_error = 1e-3;
    const Calibration c = fit(guess(), timed_on(truth, programs, seed, 0), options);
    // Where jerk keeps every move from its full acceleration no time depends on it, and corners
    // only on its product with the tolerance.
    const bool reached =
        truth.accel.x() * truth.accel.x() / truth.jerk.x() < 0.8 * truth.rapid.x() / 60;
    for (const Fitted& f : c.fitted) {
      if (!reached && (f.figure == Figure::acceleration || f.figure == Figure::path_tolerance))
        continue;
      const double is = value_of(f.figure, truth);
      EXPECT_NEAR(f.after, is, 0.03 * is) << name(f.figure) << " machine " << seed;
    }
    const double product = truth.accel.x() * truth.path_tolerance;
    EXPECT_NEAR(c.machine.accel.x() * c.machine.path_tolerance, product, 0.03 * product);
  }
}

// With a hand on the stopwatch, 0.1 s: other programs are planned within 5 %.
TEST(TestPlan, OtherProgramsArePlannedWell) {
  Diagnostics diagnostics;
  const auto programs = test_programs(guess(), told, box, 25, diagnostics);
  for (unsigned seed = first(); seed < first() + machines(); ++seed) {
    const job::Machine truth = made_up(100 + seed);
    Options options;
    options.figures = told;
    options.expected_error = 5e-3;
    const Calibration c = fit(guess(), timed_on(truth, programs, seed, 0.1), options);
    // Stairs of other sizes, rapids of another length, one change.
    std::string text = "G21 G90\nT1 M6\nS12000 M3\nM8\nG0 X0 Y0\n";
    for (int k = 0; k < 300; ++k)
      text += "G1 X" + std::to_string(1 + k % 7) + " F2500\nG1 Y" + std::to_string(k % 5) +
              "\nG1 X0 Y0\n" + (k % 20 == 0 ? "G0 X60\nG0 X0\n" : "");
    text += "M30\n";
    const nc::Program other = read(text);
    const double is = timing::plan(other, truth).time_s;
    EXPECT_NEAR(timing::plan(other, c.machine).time_s, is, 0.05 * is) << "machine " << seed;
  }
}

// The plan made with a file that is far off is run on the production mill as fitted, timed to
// 0.1 s; what comes out plans the mill's own programs within 5 % of what it takes.
TEST(TestPlan, TheMillsOwnProgramsArePlannedFromItsStopwatchFigures) {
  Diagnostics diagnostics;
  const auto truth = job::read_machine(
      fs::path(PROVEOUT_FIXTURES) / "machines" / "production-mill.toml", diagnostics);
  ASSERT_TRUE(truth);
  const auto runs = timed_runs(*truth);
  if (runs.empty()) GTEST_SKIP() << "the timed programs are not here (PROVEOUT_FIELD_DATA)";
  job::Machine start = start_of_fit();
  start.rapid *= 0.6;
  Options options;
  options.figures = {Figure::acceleration, Figure::arc_acceleration, Figure::path_tolerance,
                     Figure::rapid,        Figure::tool_change,      Figure::overhead};
  options.expected_error = 5e-3;
  const auto programs = test_programs(start, options.figures, Vec3(400, 300, 50), 25, diagnostics);
  for (unsigned seed = first(); seed < first() + machines(); ++seed) {
    const Calibration c = fit(start, timed_on(*truth, programs, seed, 0.1), options);
    for (const TimedRun& r : runs) {
      const double is = timing::plan(*r.program, *truth).time_s;
      EXPECT_NEAR(timing::plan(*r.program, c.machine).time_s, is, 0.05 * is)
          << r.name << ", stopwatch " << seed;
    }
  }
}

}  // namespace
}  // namespace proveout::after
