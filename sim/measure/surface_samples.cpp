#include "sim/measure/surface_samples.h"

#include <algorithm>

#include "sim/measure/surface.h"

namespace proveout::measure {

std::vector<SurfaceSample> surface_samples(
    const stock::Stock& stock,
    const std::function<bool(const Vec3& outward, stock::MotionId by)>& wanted, std::size_t most) {
  const auto& f = stock.fields();
  std::vector<std::vector<SurfaceSample>> lists(leaf_count(f));
  // A leaf that a face crosses holds about 64 surface voxels; the band's outer leaves hold none.
  const std::size_t about = lists.size() * 64;
  const int stride =
      static_cast<int>(std::max<std::size_t>(1, about / std::max<std::size_t>(1, most)));
  for_surface_points(f, true, [&](std::size_t leaf, const SurfacePoint& p) {
    // A plane of voxels meets such a diagonal sieve evenly, whichever way it lies.
    const int place = p.voxel.x() + 2 * p.voxel.y() + 3 * p.voxel.z();
    if (stride > 1 && (place % stride + stride) % stride != 0) return;
    const auto by = static_cast<stock::MotionId>(f.provenance->tree().getValue(p.voxel));
    if (wanted(p.outward, by))
      lists[leaf].push_back({p.at.cast<float>(), p.outward.cast<float>(), by});
  });
  std::vector<SurfaceSample> all;
  for (const auto& l : lists) all.insert(all.end(), l.begin(), l.end());
  return all;
}

}  // namespace proveout::measure
