// The page's sentences: verdict, facts, what was checked and what was not, cautions, checks by
// hand.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "sim/run/result.h"

namespace proveout::page {

void add_words(nlohmann::ordered_json& page, const run::JobResult& result);

// Whether a program's text asks for inches (G20) anywhere outside comments.
bool asks_for_inches(std::string_view program);

std::string located_in_words(job::LocatedBy by);  // empty: not stated

}  // namespace proveout::page
