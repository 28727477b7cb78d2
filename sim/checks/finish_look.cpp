#include "sim/checks/finish_look.h"

#include <tbb/task_arena.h>

#include "sim/measure/two_way.h"
#include "sim/run/tool_runs.h"

namespace proveout::checks {

std::shared_ptr<const measure::Finish> look_at_finish(const run::JobResult& result,
                                                      const stock::Stock& finished,
                                                      const PartCheckInput& in) {
  // Without the part what is meant and what is left cannot be told apart: see measure/finish.h.
  if (in.part == nullptr) return nullptr;
  std::vector<stock::SetupMotions> setups;
  for (const run::SetupResult& s : result.setups) {
    setups.push_back(
        {s.source->motions, run::tool_runs(*s.source, in.bodies), s.stock_from_setup, s.first_id});
  }
  Box3 region = in.blank.box;
  region.min().array() -= 4 * result.voxel;
  region.max().array() += 4 * result.voxel;
  const stock::ExactStock exact(in.blank, setups, region,
                                measure::comparison_tile_voxels * result.voxel);
  measure::FinishInput input{exact, finished, &in.part->faces()};
  if (result.job.part) input.sawn = result.job.part->supports;
  const auto look = [&] {
    return std::make_shared<const measure::Finish>(measure::look_at_finish(input));
  };
  return in.threads > 0 ? tbb::task_arena(in.threads).execute(look) : look();
}

}  // namespace proveout::checks
