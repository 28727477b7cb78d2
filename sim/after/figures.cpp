#include "sim/after/figures.h"

namespace proveout::after {

void set(Figure figure, double value, job::Machine& m) {
  switch (figure) {
    case Figure::acceleration:
      m.accel *= value / m.accel.x();
      break;
    case Figure::path_tolerance:
      m.path_tolerance = value;
      break;
    case Figure::rapid:
      m.rapid *= value / m.rapid.x();
      break;
    case Figure::tool_change:
      m.tool_change_s = value;
      break;
    case Figure::overhead:
      m.program_overhead_s = value;
      break;
    case Figure::spin_up:
      m.spindle.spin_up_s = value;
      break;
    case Figure::block_rate:
      m.block_rate = value;
      break;
    case Figure::jerk:
      m.jerk = m.jerk.x() > 0 ? Vec3(m.jerk * (value / m.jerk.x())) : Vec3::Constant(value);
      break;
    case Figure::arc_acceleration:
      m.arc_accel = value;
      break;
    case Figure::spindle_start:
      m.waits.spindle_start_s = value;
      break;
    case Figure::spindle_rate:
      m.waits.spindle_rpm_per_s = value;
      break;
    case Figure::coolant:
      m.waits.coolant_on_s = value;
      break;
  }
}

double job::Leeway::*leeway_of(Figure figure) {
  constexpr double job::Leeway::*members[] = {
      &job::Leeway::acceleration,  &job::Leeway::path_tolerance, &job::Leeway::rapid,
      &job::Leeway::tool_change,   &job::Leeway::overhead,       &job::Leeway::spin_up,
      &job::Leeway::block_rate,    &job::Leeway::jerk,           &job::Leeway::arc_acceleration,
      &job::Leeway::spindle_start, &job::Leeway::spindle_rate,   &job::Leeway::coolant};
  return members[static_cast<std::size_t>(figure)];
}

double starting_value(Figure figure, const job::Machine& machine) {
  const double value = value_of(figure, machine);
  if (value > 0) return value;
  switch (figure) {
    case Figure::path_tolerance:
      return 0.01;
    case Figure::block_rate:
      return 1000;
    case Figure::jerk:
      return 20 * machine.accel.x();  // full acceleration after a twentieth of a second
    case Figure::arc_acceleration:
      return machine.accel.x();
    case Figure::spindle_rate:
      return 4000;
    case Figure::spindle_start:
      return machine.spindle.spin_up_s > 0 ? machine.spindle.spin_up_s : 3;
    default:
      return 3;
  }
}

bool is_wait(Figure figure) {
  switch (figure) {
    case Figure::tool_change:
    case Figure::overhead:
    case Figure::spin_up:
    case Figure::spindle_start:
    case Figure::spindle_rate:
    case Figure::coolant:
      return true;
    default:
      return false;
  }
}

const char* name(Figure figure) {
  switch (figure) {
    case Figure::acceleration:
      return "acceleration";
    case Figure::path_tolerance:
      return "path_tolerance";
    case Figure::rapid:
      return "rapid";
    case Figure::tool_change:
      return "tool_change";
    case Figure::overhead:
      return "overhead";
    case Figure::spin_up:
      return "spin_up";
    case Figure::block_rate:
      return "block_rate";
    case Figure::jerk:
      return "jerk";
    case Figure::arc_acceleration:
      return "arc_acceleration";
    case Figure::spindle_start:
      return "spindle_start";
    case Figure::spindle_rate:
      return "spindle_rate";
    case Figure::coolant:
      return "coolant";
  }
  return "";
}

const char* unit(Figure figure) {
  switch (figure) {
    case Figure::acceleration:
      return "mm/s2 (x)";
    case Figure::path_tolerance:
      return "mm";
    case Figure::rapid:
      return "mm/min (x)";
    case Figure::block_rate:
      return "1/s";
    case Figure::jerk:
      return "mm/s3 (x)";
    case Figure::arc_acceleration:
      return "mm/s2";
    case Figure::spindle_rate:
      return "1/min/s";
    default:
      return "s";
  }
}

double value_of(Figure figure, const job::Machine& m) {
  switch (figure) {
    case Figure::acceleration:
      return m.accel.x();
    case Figure::path_tolerance:
      return m.path_tolerance;
    case Figure::rapid:
      return m.rapid.x();
    case Figure::tool_change:
      return m.tool_change_s;
    case Figure::overhead:
      return m.program_overhead_s;
    case Figure::spin_up:
      return m.spindle.spin_up_s;
    case Figure::block_rate:
      return m.block_rate;
    case Figure::jerk:
      return m.jerk.x();
    case Figure::arc_acceleration:
      return m.arc_accel;
    case Figure::spindle_start:
      return m.waits.spindle_start_s;
    case Figure::spindle_rate:
      return m.waits.spindle_rpm_per_s;
    case Figure::coolant:
      return m.waits.coolant_on_s;
  }
  return 0;
}

}  // namespace proveout::after
