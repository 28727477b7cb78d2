// The two sides' seam for the page: what was found, and the step along it.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "sim/run/result.h"

namespace proveout::page {

// {text, facts, seam, outward} of the last setup that turned the work over; null: there is none.
// seam: of each place in order x, y (mm, later setup's frame) and step (mm, > 0: the later wall
// stands proud); outward: its direction x, y.
nlohmann::ordered_json flip_seam(const run::JobResult& result);

}  // namespace proveout::page
