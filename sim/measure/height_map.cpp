#include "sim/measure/height_map.h"

#include <algorithm>
#include <cmath>

#include "sim/measure/surface.h"

namespace proveout::measure {

HeightMap height_map(const stock::Stock& stock, const RigidMotion& setup_from_stock, double cell) {
  const auto& f = stock.fields();
  std::vector<std::vector<Eigen::Vector3f>> lists(leaf_count(f));
  for_surface_points(f, false, [&](std::size_t leaf, const SurfacePoint& p) {
    lists[leaf].push_back((setup_from_stock * p.at).cast<float>());
  });
  Eigen::AlignedBox3f box;
  for (const auto& l : lists) {
    for (const auto& p : l) box.extend(p);
  }
  HeightMap map;
  map.cell = cell;
  if (box.isEmpty()) return map;
  map.x0 = box.min().x();
  map.y0 = box.min().y();
  map.columns = static_cast<int>(box.sizes().x() / cell) + 1;
  map.rows = static_cast<int>(box.sizes().y() / cell) + 1;
  map.height.assign(static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows),
                    -1e9f);
  for (const auto& l : lists) {
    for (const auto& p : l) {
      float& h = map.at(std::min(map.columns - 1, static_cast<int>((p.x() - map.x0) / cell)),
                        std::min(map.rows - 1, static_cast<int>((p.y() - map.y0) / cell)));
      h = std::max(h, p.z());
    }
  }
  return map;
}

}  // namespace proveout::measure
