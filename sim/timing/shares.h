// What binds a program's time: each second of a plan under the one thing that takes it.
#pragma once

#include <array>
#include <cstdint>

#include "sim/timing/plan.h"

namespace proveout::timing {

enum class Share : std::uint8_t {
  feed,          // length over the commanded feed: what no machine could save
  rapid,         // the same of rapids
  axis_limit,    // the rest: beyond the feed of an axis
  arc,           // across an arc
  corner,        // slowed for a joint
  acceleration,  // too short to reach the feed, or from and to rest
  jerk,          // ramps longer than with acceleration alone
  block_rate,    // the control does not read faster
  waits,         // tool changes, spindle, coolant, dwells, stops, overhead
};
inline constexpr int share_count = 9;
const char* name(Share share);  // the word in results: "axis-limit", ...

// Seconds by share; they add up to the plan's time. program: the one that was planned.
std::array<double, share_count> shares(const nc::Program& program, const job::Machine& machine,
                                       const Plan& plan);

}  // namespace proveout::timing
