#include "sim/cutting/stability.h"

#include "parser/base/geometry.h"

namespace proveout::cutting {

double least_limit(const Mode& m, double ks, int teeth, double arc) {
  const double in_cut = teeth * arc / (2 * pi);
  if (!(in_cut > 0) || !(ks > 0)) return 1e9;
  return 2 * m.stiffness * m.damping * (1 + m.damping) / (ks * in_cut);
}

double average_tooth_limit(const Mode& m, double ks, int teeth, double arc, double rpm) {
  if (!(m.frequency > 0) || !(m.stiffness > 0)) return ZeroOrder::no_limit;
  return average_tooth_limit(Response{plain_mode(m.frequency, m.damping, m.stiffness)}, ks, teeth,
                             arc, rpm);
}

double average_tooth_limit(const Response& oriented, double ks, int teeth, double arc, double rpm) {
  // The zero-order lobes with one direction, of the mean number of teeth in cut: -2 pi L / (N Kt)
  // (1 + kappa^2) with L = -1 / (a G) is -pi / (N Kt a Re G), so a factor a of twice the arc gives
  // -1 / (2 Ks Re G N*).
  if (!(ks > 0) || !(arc > 0)) return ZeroOrder::no_limit;
  return ZeroOrder::of_one_direction(oriented, arc, ks, teeth).limit(rpm);
}

}  // namespace proveout::cutting
