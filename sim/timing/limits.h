// Speed and acceleration limits along a path, and ramps between speeds. mm/s, mm/s2, mm/s3, mm, s.
// Sources of the formulas: docs/timing.md.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

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
// Greatest speed from which (or to which) a ramp of that length leads from v, for one length,
// acceleration and jerk and many v: what v has no part in is worked out once.
class Reach {
 public:
  Reach() = default;
  Reach(double length, double a, double j);
  double from(double v) const {
    if (j_ <= 0) return std::sqrt(v * v + work_);
    if (!(length_ > 0)) return v;
    // With d the gain in speed: where the acceleration is not reached, d = j s^2 and the length is
    // (2 v + d) s, a cubic in s; else (v + d / 2) (d / a + a / j), a quadratic in d.
    if (length_ <= (2 * v + full_) * a_over_j_) {
      const double s = root_of_cubic(v * two_over_j_);
      return v + j_ * s * s;
    }
    const double half = v + 0.5 * full_, rest = length_ - v * a_ / j_;
    // d^2 / 2 + half d - a rest = 0, solved so that nothing cancels.
    return v + 2 * a_ * rest / (half + std::sqrt(half * half + 2 * a_ * rest));
  }

  // As from(), of several at once and to the bit: each speed by the length of its place. The steps
  // of one root wait for each other, those of different ones do not.
  template <std::size_t n>
  static void from_each(const std::array<const Reach*, n>& lengths, std::array<double, n>& speeds) {
    bool cubic = true;
    for (std::size_t i = 0; i < n; ++i) cubic = cubic && lengths[i]->is_cubic(speeds[i]);
    if (!cubic) {
      for (std::size_t i = 0; i < n; ++i) speeds[i] = lengths[i]->from(speeds[i]);
      return;
    }
    std::array<double, n> p{}, q{}, s{};
    std::array<bool, n> open{};
    for (std::size_t i = 0; i < n; ++i) {
      p[i] = speeds[i] * lengths[i]->two_over_j_;
      q[i] = lengths[i]->q_;
      s[i] = std::min(lengths[i]->cube_root_, q[i] / p[i]);  // infinite where p is 0
      open[i] = true;
    }
    bool more = true;
    for (int step = 0; step < most_steps && more; ++step) {
      more = false;
      for (std::size_t i = 0; i < n; ++i) {
        const double next = newton(s[i], p[i], q[i]), fall = s[i] - next;
        s[i] = open[i] ? next : s[i];
        open[i] = open[i] && fall > near_enough * s[i];
        more = more || open[i];
      }
    }
    for (std::size_t i = 0; i < n; ++i) speeds[i] += lengths[i]->j_ * s[i] * s[i];
  }

 private:
  static constexpr int most_steps = 60;
  // What is left of an error is at most its square, relative to the root.
  static constexpr double near_enough = 1e-8;
  static double newton(double s, double p, double q) {
    return (2 * s * s * s + q) / (3 * s * s + p);
  }
  bool is_cubic(double v) const {
    return j_ > 0 && length_ > 0 && length_ <= (2 * v + full_) * a_over_j_;
  }
  // The root above 0 of s^3 + p s = q, p >= 0, q > 0: the left side is convex and rises, so
  // Newton's steps from above fall onto it without passing it. A start above: s^3 <= q, p s <= q.
  double root_of_cubic(double p) const {
    double s = cube_root_;
    if (p > 0) s = std::min(s, q_ / p);
    for (int i = 0; i < most_steps; ++i) {
      const double next = newton(s, p, q_), fall = s - next;
      s = next;
      if (!(fall > near_enough * s)) break;
    }
    return s;
  }

  double length_ = 0, a_ = 0, j_ = 0;
  double work_ = 0;  // 2 a length
  double full_ = 0;  // the gain at which the acceleration is reached
  double a_over_j_ = 0, two_over_j_ = 0;
  double q_ = 0, cube_root_ = 0;  // length over j, and no less than its cube root
};
double reachable(double v, double length, double a, double j);
// Greatest cruise speed, at most top, with ramps v0 -> cruise -> v1 within length.
double cruise_speed(double v0, double v1, double top, double length, double a, double j);

}  // namespace proveout::timing
