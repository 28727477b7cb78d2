#include "sim/run/exact_after.h"

#include <algorithm>
#include <vector>

#include "sim/run/tool_runs.h"

namespace proveout::run {

std::unique_ptr<const stock::ExactStock> exact_after(const JobResult& result, std::size_t setups,
                                                     const stock::BlankShape& blank,
                                                     const std::map<int, solid::ToolBody>& bodies,
                                                     Box3 region) {
  constexpr double tile_voxels = 32, spare_voxels = 4;
  std::vector<stock::SetupMotions> motions;
  for (std::size_t i = 0; i < std::min(setups, result.setups.size()); ++i) {
    const SetupResult& s = result.setups[i];
    motions.push_back(
        {s.source->motions, tool_runs(*s.source, bodies), s.stock_from_setup, s.first_id});
  }
  region.min().array() -= spare_voxels * result.voxel;
  region.max().array() += spare_voxels * result.voxel;
  return std::make_unique<const stock::ExactStock>(blank, motions, region,
                                                   tile_voxels * result.voxel);
}

}  // namespace proveout::run
