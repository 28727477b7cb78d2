// Charts of steady cutting, of each tool in each setup whose limit was learned from cuts heard at
// the machine: by the figures of the check for chatter (sim/cutting/known_cuts.h), at the cut it
// would name.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "sim/run/result.h"

namespace proveout::page {

// Each: title, setup (index), tool, line (of the program, where the cut is that comes nearest to
// its limit), rpm (1/min) and depth (mm) of that cut, limit {low, likely, high} (mm: the limit lies
// below with 10, 50 and 90 %), slowest and fastest (1/min, of the spindle), in_step (1/min: speeds
// at which teeth pass in step with the pitch heard with this tool), note. Empty without known cuts.
nlohmann::ordered_json stability_charts(const run::JobResult& result);

}  // namespace proveout::page
