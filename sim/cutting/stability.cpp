#include "sim/cutting/stability.h"

#include <algorithm>
#include <cmath>

#include "parser/base/geometry.h"

namespace proveout::cutting {

double least_limit(const Mode& m, double ks, int teeth, double arc) {
  const double in_cut = teeth * arc / (2 * pi);
  if (!(in_cut > 0) || !(ks > 0)) return 1e9;
  return 2 * m.stiffness * m.damping * (1 + m.damping) / (ks * in_cut);
}

double average_tooth_limit(const Mode& m, double ks, int teeth, double arc, double rpm) {
  const double in_cut = teeth * arc / (2 * pi);
  if (!(in_cut > 0) || !(rpm > 0) || !(ks > 0) || !(m.frequency > 0)) return 1e9;
  const double tooth_rate = rpm * teeth / 60;
  double least = 1e9;
  // Chatter frequencies lie just above the mode's; each belongs to one phase, so to one place in a
  // lobe.
  constexpr int steps = 400;
  double f_before = 0, waves_before = 0, b_before = 0;
  for (int i = 1; i <= steps; ++i) {
    const double r = 1 + 1.0 * i * i / (steps * static_cast<double>(steps));  // f / fn, up to 2
    const double re_d = 1 - r * r, im_d = 2 * m.damping * r;
    const double d = re_d * re_d + im_d * im_d;
    const double re = re_d / d / m.stiffness, im = -im_d / d / m.stiffness;
    if (re >= 0) continue;
    const double b = -1 / (2 * ks * re * in_cut);
    const double e = 2 * pi - 2 * std::atan2(std::abs(re), std::abs(im));
    const double f = r * m.frequency;
    const double waves = f / tooth_rate - e / (2 * pi);  // whole numbers are on a lobe
    if (f_before > 0 && std::floor(waves) != std::floor(waves_before)) {
      const double target = std::max(std::floor(waves), std::floor(waves_before));
      const double share = (target - waves_before) / (waves - waves_before);
      if (target >= 0) least = std::min(least, b_before + share * (b - b_before));
    }
    f_before = f;
    waves_before = waves;
    b_before = b;
  }
  return least;
}

}  // namespace proveout::cutting
