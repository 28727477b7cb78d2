// How far a planned time may be off. A machine file that calibration wrote says what the timed runs
// left open: then low and high hold nine of ten times, by linear propagation of that. Without it
// they are the same program on a livelier and on a more sluggish machine; the factors are choices,
// in the spread of shop practice (common practice, no source): estimators who know their machines
// quote +-20 %.
#pragma once

#include "sim/timing/plan.h"

namespace proveout::timing {

struct TimeRange {
  double low_s = 0, likely_s = 0, high_s = 0;  // low <= likely <= high
};

inline constexpr double livelier_acceleration = 1.5, livelier_tolerance = 2, livelier_waits = 0.75;
inline constexpr double sluggish_acceleration = 0.5, sluggish_tolerance = 0.5, sluggish_waits = 1.5,
                        nervous_override = 0.85;
inline constexpr double nine_of_ten = 1.6448536269514722;  // standard normal, 5 % above it

job::Machine livelier(const job::Machine& machine);
job::Machine more_sluggish(const job::Machine& machine);  // and feeds turned down by the operator
// The machine with its figures off by so many standard deviations of that leeway.
job::Machine off_by(const job::Machine& machine, const job::Leeway& leeway, double deviations);
// Relative standard deviation of the program's time under the machine's leeway and time_error.
double relative_deviation(const nc::Program& program, const job::Machine& machine);
TimeRange time_range(const nc::Program& program, const job::Machine& machine);

}  // namespace proveout::timing
