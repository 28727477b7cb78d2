// The share of a cube that lies below a plane.
#pragma once

#include <algorithm>
#include <cmath>

#include "parser/base/geometry.h"

namespace proveout::measure {

// Share (0..1) of a cube in which value + slope . x < 0, x from its middle. value: mm, at the
// middle; slope: per mm; size: edge, mm. Exact: Scardovelli and Zaleski, "Analytical relations
// connecting linear interfaces and volume fractions in rectangular grids", J. Comp. Phys. 164
// (2000) 228-237, equations for the volume from the line constant.
inline double plane_share(double value, const Vec3& slope, double size) {
  double m[3] = {std::abs(slope.x()), std::abs(slope.y()), std::abs(slope.z())};
  std::sort(m, m + 3);
  const double sum = m[0] + m[1] + m[2];
  if (!(sum > 0)) return value < 0 ? 1 : 0;
  for (double& v : m) v /= sum;
  const double whole = 0.5 - value / (sum * size);
  if (whole <= 0) return 0;
  if (whole >= 1) return 1;
  const double a = std::min(whole, 1 - whole), m12 = m[0] + m[1];
  const double least = m[0] * m[0] / std::max(6 * m[1] * m[2], 1e-300);
  double share = 0;
  const auto rest = [&](double v) { return v * v * (v - 3 * a); };
  if (a < m[0]) {
    share = a * a * a / (6 * m[0] * m[1] * m[2]);
  } else if (a < m[1]) {
    share = a * (a - m[0]) / (2 * m[1] * m[2]) + least;
  } else if (a < std::min(m12, m[2])) {
    share = (a * a * (3 * m12 - a) + rest(m[0]) + rest(m[1])) / (6 * m[0] * m[1] * m[2]);
  } else if (m[2] < m12) {
    share = (a * a * (3 - 2 * a) + rest(m[0]) + rest(m[1]) + rest(m[2])) / (6 * m[0] * m[1] * m[2]);
  } else {
    share = (2 * a - m12) / (2 * m[2]);
  }
  return whole <= 0.5 ? share : 1 - share;
}

}  // namespace proveout::measure
