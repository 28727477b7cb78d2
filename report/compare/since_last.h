// What a new result has better and worse than the one before it, for people who run a job again and
// again.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace proveout::compare {

// "better: gouge (A, T1) gone; worse: time 1 h 2 min -> 1 h 4 min". A kind that is no longer looked
// for is worse, and what it had found is not told as gone. Both: results that read_result takes.
std::string since_last(const nlohmann::ordered_json& before, const nlohmann::ordered_json& now);

// "2 errors, 1 warning, 0 notes"
std::string counts_in_words(const nlohmann::ordered_json& result);

}  // namespace proveout::compare
