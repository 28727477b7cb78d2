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
    const double across = machine.arc_accel > 0
                              ? machine.arc_accel
                              : std::min(machine.accel[a.first], machine.accel[a.second]);
    const double arc_speed = std::sqrt(across * nc::arc_radius(m)) / in_plane;
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

namespace {

// The cube root of q > 0 by its tangent at 1 of the nearest power: never below it, and alike on all
// machines, which the library's is not in its last bits.
double above_cube_root(double q) {
  int exponent = 0;
  const double mantissa = std::frexp(q, &exponent);  // 0.5 <= mantissa < 1
  const int third = (exponent + 3072) / 3 - 1024, left = exponent - 3 * third;  // left: 0, 1, 2
  constexpr double root[3] = {1.0, 1.2599210498948732, 1.5874010519681996};     // 2^(left/3)
  return std::ldexp(root[left] * (1 + (mantissa - 1) / 3), third);
}

// The length of the ramp between v and v + d, d >= 0, and its derivative by d (> 0 for d > 0).
struct RampLength {
  double length = 0, slope = 0;
};
RampLength length_and_slope(double v, double d, double a, double j) {
  if (d >= a * a / j) {
    const double t = d / a + a / j, mean = v + 0.5 * d;
    return {mean * t, 0.5 * t + mean / a};
  }
  const double s = std::sqrt(d / j);  // half the ramp's time
  return {(2 * v + d) * s, s + (2 * v + d) / (2 * j * std::max(s, 1e-30))};
}

}  // namespace

Reach::Reach(double length, double a, double j)
    : length_(length), a_(a), j_(j), work_(2 * a * length) {
  if (j <= 0 || !(length > 0)) return;
  full_ = a * a / j;
  a_over_j_ = a / j;
  two_over_j_ = 2 / j;
  q_ = length / j;
  cube_root_ = above_cube_root(q_);
}

double reachable(double v, double length, double a, double j) {
  return Reach(length, a, j).from(v);
}

double cruise_speed(double v0, double v1, double top, double length, double a, double j) {
  const double base = std::max(v0, v1);
  if (base >= top) return top;
  if (j <= 0) {
    const double peak = std::sqrt(std::max(0.0, (2 * a * length + v0 * v0 + v1 * v1) / 2));
    return std::clamp(peak, base, top);
  }
  if (ramp_length(v0, top, a, j) + ramp_length(top, v1, a, j) <= length) return top;
  // Both ramps' length rises with the peak's gain over the faster end, and is convex in the square
  // root of the gain: from below one Newton step leads beyond the root, from above each comes
  // nearer without passing it. Where the ends are alike the start is the answer.
  const double least = std::min(v0, v1);
  double w = std::min(top, reachable(base, 0.5 * length, a, j));
  double s = std::sqrt(std::max(0.0, w - base));
  const double most = std::sqrt(top - base);
  for (int i = 0; i < 60 && s > 0; ++i) {
    const RampLength up = length_and_slope(base, w - base, a, j),
                     down = length_and_slope(least, w - least, a, j);
    const double step = (up.length + down.length - length) / (2 * s * (up.slope + down.slope));
    if (!(step > 1e-15 * s) && (i > 0 || !(step < 0))) break;
    s = std::clamp(s - step, 0.0, most);
    w = base + s * s;
  }
  return std::clamp(w, base, top);
}

}  // namespace proveout::timing
