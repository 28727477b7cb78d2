#include "sim/measure/support.h"

#include <algorithm>
#include <cmath>

#include "sim/stock/distance_reader.h"
#include "sim/stock/occupancy.h"

namespace proveout::measure {

SupportSection support_section(const stock::Stock& stock, const Box3& box) {
  const auto& f = stock.fields();
  const double h = f.voxel;
  const stock::Occupancy occupancy(h);
  const stock::DistanceReader value(f);
  openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> made(f.provenance->tree());
  openvdb::Coord low, high;
  const Vec3 lowest = f.index(box.min()), highest = f.index(box.max());
  for (int k = 0; k < 3; ++k) {
    low[k] = static_cast<int>(std::ceil(lowest[k]));
    high[k] = static_cast<int>(std::floor(highest[k]));
  }
  SupportSection out;
  out.at = box.center();
  std::vector<double> across[2];
  for (int k = 0; k < 2; ++k) across[k].assign(std::max(0, high[k] - low[k] + 1), 0.0);
  for (int x = low.x(); x <= high.x(); ++x) {
    for (int y = low.y(); y <= high.y(); ++y) {
      for (int z = low.z(); z <= high.z(); ++z) {
        const openvdb::Coord c(x, y, z);
        const float distance = value.at(c);
        const double share = occupancy(distance) * h * h;
        across[0][static_cast<std::size_t>(x - low.x())] += share;
        across[1][static_cast<std::size_t>(y - low.y())] += share;
        if (std::abs(distance) < 1.5 * h) {
          out.left_by = std::max(out.left_by, static_cast<stock::MotionId>(made.getValue(c)));
        }
      }
    }
  }
  for (const auto& slices : across) {
    if (slices.empty()) continue;
    const double least = *std::min_element(slices.begin(), slices.end());
    // The box may take in a sliver of the frame, which runs through the other way: the larger
    // counts.
    if (least > h * h) out.area_mm2 = std::max(out.area_mm2, least);
  }
  return out;
}

}  // namespace proveout::measure
