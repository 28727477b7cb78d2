// What `proveout reach` writes: schema, job and the section `reach` (docs/result-keys.md).
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "sim/reach/reach.h"

namespace proveout::json {

nlohmann::ordered_json reach_result(const std::string& job_name, const reach::Reach& reach);

}  // namespace proveout::json
