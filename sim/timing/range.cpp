#include "sim/timing/range.h"

#include <cmath>

namespace proveout::timing {
namespace {

void scale_waits(job::Machine& m, double factor) {
  m.tool_change_s *= factor;
  m.spindle.spin_up_s *= factor;
  m.program_overhead_s *= factor;
  for (const auto wait :
       {&job::Waits::spindle_start_s, &job::Waits::spindle_stop_s, &job::Waits::coolant_on_s,
        &job::Waits::coolant_off_s, &job::Waits::program_stop_s})
    m.waits.*wait *= factor;
  m.waits.spindle_rpm_per_s /= factor;
}

}  // namespace

job::Machine livelier(const job::Machine& machine) {
  job::Machine m = machine;
  m.accel *= livelier_acceleration;
  m.arc_accel *= livelier_acceleration;
  m.jerk *= livelier_acceleration;
  m.path_tolerance *= livelier_tolerance;
  scale_waits(m, livelier_waits);
  return m;
}

job::Machine more_sluggish(const job::Machine& machine) {
  job::Machine m = machine;
  m.accel *= sluggish_acceleration;
  m.arc_accel *= sluggish_acceleration;
  m.jerk *= sluggish_acceleration;
  m.path_tolerance *= sluggish_tolerance;
  m.feed_override *= nervous_override;
  scale_waits(m, sluggish_waits);
  return m;
}

job::Machine off_by(const job::Machine& machine, const job::Leeway& leeway, double deviations) {
  job::Machine m = machine;
  const auto factor = [deviations](double one) { return std::pow(one, deviations); };
  m.accel *= factor(leeway.acceleration);
  m.path_tolerance *= factor(leeway.path_tolerance);
  m.rapid *= factor(leeway.rapid);
  m.tool_change_s *= factor(leeway.tool_change);
  m.program_overhead_s *= factor(leeway.overhead);
  m.spindle.spin_up_s *= factor(leeway.spin_up);
  m.block_rate *= factor(leeway.block_rate);
  m.jerk *= factor(leeway.jerk);
  m.arc_accel *= factor(leeway.arc_acceleration);
  m.waits.spindle_start_s *= factor(leeway.spindle_start);
  m.waits.spindle_rpm_per_s *= factor(leeway.spindle_rate);
  m.waits.coolant_on_s *= factor(leeway.coolant);
  return m;
}

double relative_deviation(const nc::Program& program, const job::Machine& machine) {
  double variance = machine.time_error * machine.time_error;
  for (const job::Leeway& l : machine.leeway) {
    const double more = plan(program, off_by(machine, l, 1)).time_s,
                 less = plan(program, off_by(machine, l, -1)).time_s;
    if (!(more > 0) || !(less > 0)) continue;
    const double half = 0.5 * std::log(more / less);
    variance += half * half;
  }
  return std::sqrt(variance);
}

TimeRange time_range(const nc::Program& program, const job::Machine& machine) {
  const double likely = plan(program, machine).time_s;
  if (machine.time_error > 0 || !machine.leeway.empty()) {
    const double factor = std::exp(nine_of_ten * relative_deviation(program, machine));
    return {likely / factor, likely, likely * factor};
  }
  return {plan(program, livelier(machine)).time_s, likely,
          plan(program, more_sluggish(machine)).time_s};
}

}  // namespace proveout::timing
