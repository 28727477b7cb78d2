// The part of result.json that tells whether the sides meet.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/run/result.h"

namespace proveout::json {

// `flips`: one entry a setup that turned the work over.
nlohmann::ordered_json flips_json(const run::JobResult& result);

}  // namespace proveout::json
