#include "sim/timing/shares.h"

#include <algorithm>

#include "sim/timing/limits.h"

namespace proveout::timing {
namespace {

// How much longer the motion takes than with its acceleration alone, s: the longer ramps less the
// time at cruise speed for the way they cover meanwhile.
double by_jerk(const TimedMotion& m) {
  if (!(m.jerk > 0) || !(m.cruise_speed > 0)) return 0;
  double more = 0;
  for (const double end : {m.entry_speed, m.exit_speed}) {
    const double longer = ramp_time(end, m.cruise_speed, m.acceleration, m.jerk) -
                          ramp_time(end, m.cruise_speed, m.acceleration, 0);
    more += longer * (1 - 0.5 * (end + m.cruise_speed) / m.cruise_speed);
  }
  return more;
}

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
  for (std::size_t i = 0; i < plan.motions.size(); ++i) {
    const nc::Motion& m = program.motions[i];
    const TimedMotion& t = plan.motions[i];
    const double length = nc::length(m);
    if (!(length > 0)) continue;
    const double commanded = limits_of(m, length, machine).commanded;
    const double naive = std::min(t.time_s, commanded > 0 ? length / commanded : t.time_s);
    at(m.kind == nc::PathKind::rapid ? Share::rapid : Share::feed) += naive;
    const double lost = t.time_s - naive, jerk = std::min(lost, by_jerk(t));
    at(Share::jerk) += jerk;
    at(share_of(t.slowed_by)) += lost - jerk;
  }
  return seconds;
}

}  // namespace proveout::timing
