#include "parser/nc/motion.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace proveout::nc {
PlaneAxes axes_of(Plane plane) {
  switch (plane) {
    case Plane::zx:
      return {2, 0, 1};
    case Plane::yz:
      return {1, 2, 0};
    case Plane::xy:
      break;
  }
  return {0, 1, 2};
}

double arc_radius(const Motion& m) {
  const PlaneAxes a = axes_of(m.plane);
  return std::hypot(m.start[a.first] - m.centre[a.first], m.start[a.second] - m.centre[a.second]);
}

double length(const Motion& m) {
  if (m.kind != PathKind::arc) return (m.end - m.start).norm();
  const PlaneAxes a = axes_of(m.plane);
  // A spiral within the radius tolerance is measured at its mean radius.
  const double end_radius =
      std::hypot(m.end[a.first] - m.centre[a.first], m.end[a.second] - m.centre[a.second]);
  const double arc = std::abs(m.sweep) * 0.5 * (arc_radius(m) + end_radius);
  return std::hypot(arc, m.end[a.normal] - m.start[a.normal]);
}

Vec3 point_at(const Motion& m, double fraction) {
  if (m.kind != PathKind::arc) return m.start + fraction * (m.end - m.start);
  if (fraction <= 0) return m.start;
  if (fraction >= 1) return m.end;
  const PlaneAxes a = axes_of(m.plane);
  const double u = m.start[a.first] - m.centre[a.first];
  const double v = m.start[a.second] - m.centre[a.second];
  const double start_radius = std::hypot(u, v);
  const double end_radius =
      std::hypot(m.end[a.first] - m.centre[a.first], m.end[a.second] - m.centre[a.second]);
  const double scale = start_radius > 0 ? 1 + fraction * (end_radius / start_radius - 1) : 1;
  const double turn = fraction * m.sweep;
  Vec3 p;
  p[a.first] = m.centre[a.first] + scale * (u * std::cos(turn) - v * std::sin(turn));
  p[a.second] = m.centre[a.second] + scale * (u * std::sin(turn) + v * std::cos(turn));
  p[a.normal] = m.start[a.normal] + fraction * (m.end[a.normal] - m.start[a.normal]);
  return p;
}

Vec3 tangent_at(const Motion& m, double fraction) {
  const double total = length(m);
  if (!(total > 0)) return Vec3::Zero();
  if (m.kind != PathKind::arc) return (m.end - m.start) / total;
  const PlaneAxes a = axes_of(m.plane);
  const double u = m.start[a.first] - m.centre[a.first];
  const double v = m.start[a.second] - m.centre[a.second];
  const double turn = fraction * m.sweep;
  Vec3 t;
  t[a.first] = m.sweep * (-u * std::sin(turn) - v * std::cos(turn));
  t[a.second] = m.sweep * (u * std::cos(turn) - v * std::sin(turn));
  t[a.normal] = m.end[a.normal] - m.start[a.normal];
  return t.normalized();
}

Box3 bounds(const Motion& m) {
  Box3 box(m.start);
  box.extend(m.end);
  if (m.kind != PathKind::arc) return box;
  const PlaneAxes a = axes_of(m.plane);
  const double from =
      std::atan2(m.start[a.second] - m.centre[a.second], m.start[a.first] - m.centre[a.first]);
  const double low = std::min(from, from + m.sweep);
  const double high = std::max(from, from + m.sweep);
  // Quarter points the sweep passes are extremes.
  const double first_quarter = std::ceil(low / (pi / 2));
  int seen = 0;
  for (double q = first_quarter; q * (pi / 2) <= high && seen < 4; ++q, ++seen) {
    const double fraction = m.sweep == 0 ? 0 : (q * (pi / 2) - from) / m.sweep;
    box.extend(point_at(m, std::clamp(fraction, 0.0, 1.0)));
  }
  return box;
}

StepRange steps_within(const Motion& m, int steps, const Box3& box) {
  if (box.isEmpty() || !bounds(m).intersects(box)) return {};
  if (m.kind == PathKind::arc) return {0, steps};
  double from = 0, to = 1;
  for (int k = 0; k < 3; ++k) {
    const double way = m.end[k] - m.start[k];
    if (way == 0) continue;
    const double one = (box.min()[k] - m.start[k]) / way, other = (box.max()[k] - m.start[k]) / way;
    from = std::max(from, std::min(one, other));
    to = std::min(to, std::max(one, other));
  }
  if (from > to) return {};
  // One more to each side for rounding.
  return {std::max(0, static_cast<int>(std::floor(from * steps)) - 1),
          std::min(steps, static_cast<int>(std::ceil(to * steps)) + 1)};
}

}  // namespace proveout::nc
