// result.json: the contract with other programs (docs/result-file.md).
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "report/files/rounded.h"
#include "sim/run/result.h"

namespace proveout::json {

inline constexpr const char* result_schema = "proveout-result/1";

// Lengths mm, times s, masses g, rounded to 1e-6. Same result, same bytes, but for the section
// "run".
nlohmann::ordered_json result_json(const run::JobResult& result);
nlohmann::ordered_json finding_json(const Finding& finding);

// As a file has it: one space a level, a line end. Bytes that are no UTF-8, which names of files
// may have, are replaced.
std::string to_bytes(const nlohmann::ordered_json& json);

using files::rounded;

}  // namespace proveout::json
