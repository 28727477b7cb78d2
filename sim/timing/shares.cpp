#include "sim/timing/shares.h"

#include <algorithm>

#include "sim/timing/limits.h"

namespace proveout::timing {
namespace {

Share share_of(SlowedBy reason) {
  switch (reason) {
    case SlowedBy::corner:
      return Share::corner;
    case SlowedBy::axis_limit:
      return Share::axis_limit;
    case SlowedBy::block_rate:
      return Share::block_rate;
    case SlowedBy::arc:
      return Share::arc;
    case SlowedBy::nothing:
    case SlowedBy::short_block:
    case SlowedBy::wait:
      break;
  }
  return Share::acceleration;
}

}  // namespace

const char* name(Share share) {
  constexpr const char* names[share_count] = {"feed", "rapid",      "axis-limit",
                                              "arc",  "corner",     "acceleration",
                                              "jerk", "block-rate", "waits"};
  return names[static_cast<std::size_t>(share)];
}

std::array<double, share_count> shares(const nc::Program& program, const job::Machine& machine,
                                       const Plan& plan) {
  std::array<double, share_count> seconds{};
  const auto at = [&](Share s) -> double& { return seconds[static_cast<std::size_t>(s)]; };
  at(Share::waits) = machine.program_overhead_s;
  for (const Wait& w : plan.waits) at(Share::waits) += w.time_s;
  // What jerk takes is what the same program would not take without it: it keeps speeds low as well
  // as it makes ramps longer. The rest is lost as it would be then.
  job::Machine without = machine;
  without.jerk = Vec3::Zero();
  const bool limited = (machine.jerk.array() > 0).any();
  const Plan unlimited = limited ? timing::plan(program, without) : Plan{};
  for (std::size_t i = 0; i < plan.motions.size(); ++i) {
    const nc::Motion& m = program.motions[i];
    const TimedMotion& t = plan.motions[i];
    const double length = nc::length(m);
    if (!(length > 0)) continue;
    const double commanded = limits_of(m, length, machine).commanded;
    const double naive = std::min(t.time_s, commanded > 0 ? length / commanded : t.time_s);
    at(m.kind == nc::PathKind::rapid ? Share::rapid : Share::feed) += naive;
    const TimedMotion& free = limited ? unlimited.motions[i] : t;
    const double lost = t.time_s - naive, jerk = std::clamp(t.time_s - free.time_s, 0.0, lost);
    at(Share::jerk) += jerk;
    at(share_of(free.slowed_by)) += lost - jerk;
  }
  return seconds;
}

}  // namespace proveout::timing
