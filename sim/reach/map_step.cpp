#include "sim/reach/map_step.h"

#include <algorithm>
#include <cmath>

#include "sim/setup/pose.h"

namespace proveout::reach {

double affordable_step(const job::Job& job, const mesh::Mesh& part, double wanted, double most) {
  double widest = 0, footprints = 0;  // mm, mm2
  for (const job::Tool& t : job.tools) {
    widest = std::max(widest, t.diameter);
    footprints += pi / 4 * t.diameter * t.diameter;
  }
  double maps = 0;  // mm2
  for (const job::Setup& s : job.setups) {
    const Vec3 size =
        setup::turned(mesh::bounds(part), setup::machine_from_stock_rotation(s.turn)).sizes();
    maps += (size.x() + widest) * (size.y() + widest);
  }
  // Points and spots each go with the inverse square of the step.
  return std::max(wanted, std::pow(maps * footprints / most, 0.25));
}

}  // namespace proveout::reach
