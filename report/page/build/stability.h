// Stability charts of each tool in each setup, from the load model at the cut that comes nearest to
// its limit: the one a finding of kind chatter names.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "sim/run/result.h"

namespace proveout::page {

// {title, line, rpm (1/min), limit_depth (mm), used (speed and depth), note, setup (index), tool}
// each; line: of the program, where that cut is.
nlohmann::ordered_json stability_charts(const run::JobResult& result);

}  // namespace proveout::page
