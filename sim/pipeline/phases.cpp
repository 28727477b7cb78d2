#include "sim/pipeline/phases.h"

#include <algorithm>
#include <chrono>
#include <ctime>

namespace proveout::pipeline {
namespace {

double wall_now() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}
double processor_now() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

}  // namespace

PhaseClock::Running::Running(PhaseClock& clock, std::string_view name)
    : clock_(clock), wall_(wall_now()), processor_(processor_now()) {
  std::vector<Phase>& all = clock.phases_;
  const auto known =
      std::find_if(all.begin(), all.end(), [&](const Phase& p) { return p.name == name; });
  phase_ = static_cast<std::size_t>(known - all.begin());
  if (known == all.end()) all.push_back({name});
}

PhaseClock::Running::~Running() {
  Phase& phase = clock_.phases_[phase_];
  phase.wall_s += wall_now() - wall_;
  phase.processor_s += processor_now() - processor_;
}

}  // namespace proveout::pipeline
