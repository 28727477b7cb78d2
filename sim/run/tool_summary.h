// Sums of one setup per tool: time, travel, removal.
#pragma once

#include <span>
#include <vector>

#include "sim/run/result.h"

namespace proveout::run {

// Times, travel, removal and peaks; tools in order of first use.
std::vector<ToolResult> tool_summary(const SetupCut& setup, const MotionLoads& loads,
                                     const job::Job& job);

// Time in which a motion met material, s.
double time_in_material(const timing::TimedMotion& timed, double length,
                        std::span<const stock::EngagementSample> samples);

}  // namespace proveout::run
