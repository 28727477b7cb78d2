// What a dry run will ask of the computer, told before it starts.
#pragma once

#include <cstddef>
#include <map>
#include <optional>
#include <vector>

#include "parser/base/geometry.h"
#include "parser/nc/program.h"
#include "sim/solid/tool_body.h"

namespace proveout::pipeline {

struct ForecastInput {
  Box3 blank;                                    // mm
  double voxel = 0;                              // mm
  std::vector<const nc::Program*> programs;      // one a setup
  const std::map<int, solid::ToolBody>& bodies;  // by tool number
  int threads = 1;
  bool keep_stock_after_setups = false;
};

struct Forecast {
  double memory_mb = 0;  // likely peak
  double seconds = 0;    // likely; within about three times either way
};

// From the surfaces the voxels of which are kept and the area the motions sweep; the figures per
// voxel and motion are measured (docs/engine.md).
Forecast forecast(const ForecastInput& input);

// v > 0, rounded up to two digits.
double rounded_up(double v);

// The least voxel, mm, rounded up to two digits, whose forecast stays below memory_mb; at least
// input.voxel.
double voxel_within(ForecastInput input, double memory_mb);

// Memory this process may still take, MB: the least of what the system says is available, the
// control group's limit and the process's own. nullopt where the system tells none of them.
std::optional<double> memory_available_mb();

}  // namespace proveout::pipeline
