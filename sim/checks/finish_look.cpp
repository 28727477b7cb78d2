#include "sim/checks/finish_look.h"

#include "sim/run/exact_after.h"
#include "sim/stock/on_threads.h"

namespace proveout::checks {

std::shared_ptr<const measure::Finish> look_at_finish(const run::JobResult& result,
                                                      const stock::Stock& finished,
                                                      const PartCheckInput& in) {
  // Without the part what is meant and what is left cannot be told apart: see measure/finish.h.
  if (in.part == nullptr) return nullptr;
  const auto exact =
      run::exact_after(result, result.setups.size(), in.blank, in.bodies, in.blank.box);
  measure::FinishInput input{*exact, finished, &in.part->faces()};
  if (result.job.part) input.sawn = result.job.part->supports;
  const auto look = [&] {
    return std::make_shared<const measure::Finish>(measure::look_at_finish(input));
  };
  return stock::on_threads(in.threads, look);
}

}  // namespace proveout::checks
