// The two sides' seam for the page: what was found, and the step along it.
#pragma once

#include <optional>

#include "report/page/data/page_data.h"
#include "sim/run/result.h"

namespace proveout::page {

// Of the last setup that turned the work over; nullopt: there is none.
std::optional<FlipSeam> flip_seam(const run::JobResult& result);

}  // namespace proveout::page
