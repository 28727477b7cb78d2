#include "sim/run/result.h"

namespace proveout::run {

std::optional<JobResult::Origin> JobResult::origin(stock::MotionId id) const {
  for (std::size_t s = 0; s < setups.size(); ++s) {
    const SetupResult& setup = setups[s];
    if (id >= setup.first_id && id - setup.first_id < setup.cut.motions.size()) {
      return Origin{s, id - setup.first_id};
    }
  }
  return std::nullopt;
}

}  // namespace proveout::run
