// Which of the files a kept result was made of have changed since.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace proveout::compare {

struct InputChanges {
  // Both results name their inputs; those of versions before that key do not.
  bool known = false;
  std::size_t same = 0;                           // files of both, byte for byte alike
  std::vector<std::string> changed, added, gone;  // names, as the results give them
  std::string kept_version, version;              // of the program that wrote each; empty: not said
};

// Both: results that read_result takes.
InputChanges input_changes(const nlohmann::ordered_json& kept, const nlohmann::ordered_json& now);

// One or two sentences: "Inputs since: changed side-a.nc; new clamp.stl."
std::string in_words(const InputChanges& changes);

// What is wrong with a result's list of inputs, in words; empty: nothing, or there is no list.
std::string wrong_with_inputs(const nlohmann::ordered_json& result);

}  // namespace proveout::compare
