#include "sim/timing/limits.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace proveout::timing {

double along(const Vec3& limit, const Vec3& u) {
  double least = std::numeric_limits<double>::infinity();
  for (int i = 0; i < 3; ++i) {
    if (u[i] != 0) least = std::min(least, limit[i] / std::abs(u[i]));
  }
  return least;
}

namespace {

// On an arc every direction of its plane comes up: the weaker axis counts, with the share of the
// path that lies in the plane, and the normal axis with its own share.
double along_arc(const Vec3& limit, const nc::PlaneAxes& a, double in_plane, double normal) {
  double least = std::min(limit[a.first], limit[a.second]) / in_plane;
  if (normal > 0) least = std::min(least, limit[a.normal] / normal);
  return least;
}

// Axes without a jerk limit do not bind.
Vec3 or_unlimited(const Vec3& jerk) {
  Vec3 out = jerk;
  for (int i = 0; i < 3; ++i) {
    if (out[i] <= 0) out[i] = std::numeric_limits<double>::infinity();
  }
  return out;
}

}  // namespace

PathLimits limits_of(const nc::Motion& m, double length, const job::Machine& machine) {
  PathLimits out;
  const bool rapid = m.kind == nc::PathKind::rapid;
  const Vec3 speed = (rapid ? machine.rapid * machine.rapid_override : machine.max_feed) / 60.0;
  const Vec3 jerk = or_unlimited(machine.jerk);
  double axis_speed = 0, j = 0;
  if (m.kind == nc::PathKind::arc) {
    const nc::PlaneAxes a = nc::axes_of(m.plane);
    const double normal = std::abs(m.end[a.normal] - m.start[a.normal]) / length;
    const double in_plane = std::sqrt(std::max(0.0, 1 - normal * normal));
    axis_speed = along_arc(speed, a, in_plane, normal);
    out.acceleration = std::min(machine.accel[a.first], machine.accel[a.second]);
    if (normal > 0) out.acceleration = std::min(out.acceleration, machine.accel[a.normal]);
    j = along_arc(jerk, a, in_plane, normal);
    const double arc_speed =
        std::sqrt(std::min(machine.accel[a.first], machine.accel[a.second]) * nc::arc_radius(m)) /
        in_plane;
    out.speed = std::min(axis_speed, arc_speed);
    out.by_arc = arc_speed < axis_speed;
  } else {
    const Vec3 u = (m.end - m.start) / length;
    axis_speed = along(speed, u);
    out.acceleration = along(machine.accel, u);
    j = along(jerk, u);
    out.speed = axis_speed;
  }
  out.jerk = std::isfinite(j) ? j : 0;
  out.commanded = rapid ? axis_speed : m.feed * machine.feed_override / 60.0;
  out.by_axis = axis_speed < out.commanded * (1 - 1e-12);
  out.by_arc = out.by_arc && out.speed < out.commanded;
  if (machine.block_rate > 0 && length * machine.block_rate < out.top()) {
    out.speed = length * machine.block_rate;
    out.by_rate = true;
  }
  return out;
}

double corner_speed(const Vec3& u1, const Vec3& u2, double d, const Vec3& acceleration) {
  const double cosine = -u1.dot(u2);  // of the angle between -u1 and u2
  if (1 + cosine < 1e-9) return std::numeric_limits<double>::infinity();
  const double s = std::sqrt(std::max(0.0, (1 - cosine) / 2));  // sin(theta / 2)
  if (s <= 0 || d <= 0) return 0;
  const Vec3 w = (u2 - u1).normalized();
  return std::sqrt(along(acceleration, w) * d * s / (1 - s));
}

double ramp_time(double v0, double v1, double a, double j) {
  const double dv = std::abs(v1 - v0);
  if (dv == 0) return 0;
  if (j <= 0) return dv / a;
  return dv >= a * a / j ? dv / a + a / j : 2 * std::sqrt(dv / j);
}

double ramp_length(double v0, double v1, double a, double j) {
  return 0.5 * (v0 + v1) * ramp_time(v0, v1, a, j);
}

double reachable(double v, double length, double a, double j) {
  if (j <= 0) return std::sqrt(v * v + 2 * a * length);
  // The length of a ramp grows with the speed reached: bisection between bounds that hold the
  // answer.
  double low = v, high = std::sqrt(v * v + 2 * a * length);
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (ramp_length(v, middle, a, j) <= length ? low : high) = middle;
  }
  return low;
}

double cruise_speed(double v0, double v1, double top, double length, double a, double j) {
  const double base = std::max(v0, v1);
  if (base >= top) return top;
  if (j <= 0) {
    const double peak = std::sqrt(std::max(0.0, (2 * a * length + v0 * v0 + v1 * v1) / 2));
    return std::clamp(peak, base, top);
  }
  if (ramp_length(v0, top, a, j) + ramp_length(top, v1, a, j) <= length) return top;
  double low = base, high = top;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (ramp_length(v0, middle, a, j) + ramp_length(middle, v1, a, j) <= length ? low : high) = middle;
  }
  return low;
}

}  // namespace proveout::timing
