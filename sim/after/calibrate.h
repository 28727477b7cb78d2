// Machine figures from timed runs. Least squares in logarithms (all figures are positive): the sum
// of squared relative time errors over their expected size, plus what is known beforehand (the
// machine file, each figure within a factor). Errors far beyond the expected count less than their
// square (pseudo-Huber: Charbonnier et al., IEEE Trans. Image Processing 6 (1997) 298), and all
// readings of one log together as no more than a few runs: they share their errors. Solved by
// Levenberg-Marquardt (Eigen), reweighted until the weights stay; uncertainties from the curvature
// at the solution (Nocedal and Wright, "Numerical Optimization", chapter 10), widened by what each
// run's error is against its prediction by the others (studentized residuals).
#pragma once

#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "parser/job/job.h"
#include "parser/nc/program.h"

namespace proveout::after {

enum class Figure : std::uint8_t {
  acceleration,      // factor on accel of all axes
  path_tolerance,    // mm
  rapid,             // factor on rapid of all axes
  tool_change,       // s
  overhead,          // s, once per program
  spin_up,           // s
  block_rate,        // 1/s; only where the machine file gives one
  jerk,              // factor on jerk of all axes
  arc_acceleration,  // mm/s2 across an arc
  spindle_start,     // s, as are those below but the rate; keys of machine.waits
  spindle_rate,      // 1/min per s
  coolant            // s, at M7 and M8
};
inline constexpr Figure all_figures[] = {
    Figure::acceleration,     Figure::path_tolerance, Figure::rapid,        Figure::tool_change,
    Figure::overhead,         Figure::spin_up,        Figure::block_rate,   Figure::jerk,
    Figure::arc_acceleration, Figure::spindle_start,  Figure::spindle_rate, Figure::coolant};
const char* name(Figure figure);  // the word used on the command line and in results
const char* unit(Figure figure);
double value_of(Figure figure, const job::Machine& machine);  // of x for those with three axes

// A passage of the program timed on its own, from a control log: when motions of one line began and
// ended.
struct LoggedLine {
  std::uint32_t line = 0;
  double start_s = 0;    // since the log's start
  double top_speed = 0;  // mm/s, the largest seen while the line was current; 0: not logged
  // The line held that speed for several readings. If not, it may have been faster between them.
  bool held = false;
};

struct TimedRun {
  std::string name;  // for reports
  std::shared_ptr<const nc::Program> program;
  double measured_s = 0;     // of the whole program, waits included; 0: only the log
  double feed_override = 1;  // factor the operator ran it with
  double rapid_override = 1;
  std::vector<LoggedLine> log;  // in order of time; empty: none
};

struct Options {
  std::vector<Figure> figures;   // to fit; those not named keep the machine file's value
  double expected_error = 0.01;  // relative, of a run's time: what scatter and model leave (choice)
  double prior_factor = 3;   // a figure is known beforehand within this factor, one sigma (choice)
  double runs_in_a_log = 1;  // a log tells no more than so many runs, by all its readings (choice)
  // Told how many rounds of the search are done, of how many at most.
  std::function<void(int done, int most)> progress;
};

struct Fitted {
  Figure figure = Figure::acceleration;
  double before = 0, after = 0;
  double factor = 1;  // one-sigma uncertainty as a factor: after / factor .. after * factor
  bool told_by_data =
      true;  // false: the runs narrow it by less than half of what was known beforehand
};

struct Residual {
  std::string run;
  double measured_s = 0, before_s = 0, after_s = 0;  // planned with the old and new figures
};

struct Calibration {
  job::Machine machine;  // with the fitted figures, its leeway and time_error
  std::vector<Fitted> fitted;
  std::vector<Residual> residuals;  // one per run with a measured time
  // Pairs of figures the runs can hardly tell apart: correlation beyond 0.95.
  std::vector<std::pair<Figure, Figure>> entangled;
  int evaluations = 0;  // plans made, for progress and tests
};

// runs: at least one, each with a measured time above 0 or a log; others tell nothing.
Calibration fit(const job::Machine& machine, std::span<const TimedRun> runs,
                const Options& options);

// A machine file (TOML, mm) with every figure; `note` becomes comment lines at its head.
std::string machine_file(const job::Machine& machine, const std::string& note);

}  // namespace proveout::after
