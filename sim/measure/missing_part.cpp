#include "sim/measure/missing_part.h"

#include <algorithm>
#include <cmath>

#include "parser/mesh/mesh.h"
#include "sim/measure/probe.h"

namespace proveout::measure {

MissingPart missing_part(const stock::Stock& stock, const solid::PartDistance& part,
                         double tolerance, const std::vector<Box3>& left_out) {
  constexpr double most_points = 2e5;
  const Box3 box = mesh::bounds(part.mesh());
  MissingPart missing;
  missing.spacing = std::max(stock.voxel(), std::cbrt(box.volume() / most_points));
  const double step = missing.spacing;
  const double deep = std::max(2 * stock.voxel(), tolerance);
  const StockProbe probe(stock);
  std::size_t points = 0;
  // In the middle of cells, so that no point lies on a face of the box.
  for (double z = box.min().z() + step / 2; z < box.max().z(); z += step) {
    for (double y = box.min().y() + step / 2; y < box.max().y(); y += step) {
      for (double x = box.min().x() + step / 2; x < box.max().x(); x += step) {
        const Vec3 place(x, y, z);
        if (!(probe.at(place) > 0)) continue;
        if (std::any_of(left_out.begin(), left_out.end(),
                        [&](const Box3& b) { return b.contains(place); }))
          continue;
        const double below = -part.at(place);
        if (!(below > tolerance)) continue;
        ++points;
        if (below > deep) ++missing.deep;
        if (below > missing.depth) {
          missing.depth = below;
          missing.at = place;
        }
      }
    }
  }
  missing.volume_mm3 = static_cast<double>(points) * step * step * step;
  return missing;
}

}  // namespace proveout::measure
