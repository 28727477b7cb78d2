// Everyday names of what is cut, and the built-in material each most likely means.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace proveout::run {

struct MaterialMeant {
  std::string name;    // of a built-in material
  bool exact = false;  // the same name, but for case and signs
  std::string words;   // "aluminium taken as 6061-T6"
};

// A built-in material's own name in another case, an everyday name ("aluminium", "ply"), or the
// nearest spelling. nullopt: nothing near. Everyday names: common practice, no source.
std::optional<MaterialMeant> material_meant(std::string_view word);

}  // namespace proveout::run
