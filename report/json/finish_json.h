// The part of result.json that tells what will have to be filed and sanded.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/run/result.h"

namespace proveout::json {

// `finish`: areas above heights, and the longest lines with the motions that made them.
nlohmann::ordered_json finish_json(const run::JobResult& result);

}  // namespace proveout::json
