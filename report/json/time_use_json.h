// The part of result.json that tells where the time goes and what would give some of it back.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/run/result.h"

namespace proveout::json {

// `time_use`: shares of the time, the stretches that take most, what changes would save.
nlohmann::ordered_json time_use_json(const run::JobResult& result);

}  // namespace proveout::json
