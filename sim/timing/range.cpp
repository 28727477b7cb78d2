#include "sim/timing/range.h"

namespace proveout::timing {
namespace {

void scale_waits(job::Machine& m, double factor) {
  m.tool_change_s *= factor;
  m.spindle.spin_up_s *= factor;
  m.program_overhead_s *= factor;
}

}  // namespace

job::Machine livelier(const job::Machine& machine) {
  job::Machine m = machine;
  m.accel *= livelier_acceleration;
  m.jerk *= livelier_acceleration;
  m.path_tolerance *= livelier_tolerance;
  scale_waits(m, livelier_waits);
  return m;
}

job::Machine more_sluggish(const job::Machine& machine) {
  job::Machine m = machine;
  m.accel *= sluggish_acceleration;
  m.jerk *= sluggish_acceleration;
  m.path_tolerance *= sluggish_tolerance;
  m.feed_override *= nervous_override;
  scale_waits(m, sluggish_waits);
  return m;
}

TimeRange time_range(const nc::Program& program, const job::Machine& machine) {
  return {plan(program, livelier(machine)).time_s, plan(program, machine).time_s,
          plan(program, more_sluggish(machine)).time_s};
}

}  // namespace proveout::timing
