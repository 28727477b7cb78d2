// Stability charts of each tool in each setup, from the load model at the tool's deepest sample.
#pragma once

#include <vector>

#include "report/page/data/page_data.h"
#include "sim/run/result.h"

namespace proveout::page {

std::vector<StabilityChart> stability_charts(const run::JobResult& result);

}  // namespace proveout::page
