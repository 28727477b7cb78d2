// Speed and acceleration limits along a path, and ramps between speeds. mm/s, mm/s2, mm/s3, mm, s.
// Sources of the formulas: docs/timing.md.
#pragma once

#include "parser/job/job.h"
#include "parser/nc/motion.h"

namespace proveout::timing {

// min over the axes with u_i != 0 of limit_i / |u_i|; infinity for a zero vector.
double along(const Vec3& limit, const Vec3& u);

struct PathLimits {
  double speed = 0;         // what axes and curvature allow
  double commanded = 0;     // feed or rapid, overrides applied, before limits
  double acceleration = 0;  // tangential
  double jerk = 0;          // 0: not limited
  bool by_axis = false;     // speed is below commanded because of an axis
  bool by_arc = false;      // ... because of the arc's radius
  bool by_rate = false;     // ... because of the control's block rate
  double top() const { return speed < commanded ? speed : commanded; }
};
PathLimits limits_of(const nc::Motion& motion, double length, const job::Machine& machine);

// Greatest speed at the joint of two paths with unit tangents u1 (leaving the first) and u2
// (entering the second) under path tolerance d: the speed on the arc that leaves the corner by d at
// most.
double corner_speed(const Vec3& u1, const Vec3& u2, double d, const Vec3& acceleration);

// Ramp between two speeds: time and length. a: acceleration, j: jerk (0: not limited).
double ramp_time(double v0, double v1, double a, double j);
double ramp_length(double v0, double v1, double a, double j);
// Greatest speed from which (or to which) a ramp of that length leads from v.
double reachable(double v, double length, double a, double j);
// Greatest cruise speed, at most top, with ramps v0 -> cruise -> v1 within length.
double cruise_speed(double v0, double v1, double top, double length, double a, double j);

}  // namespace proveout::timing
