#include "sim/run/material_names.h"

#include <fmt/format.h>

#include <array>
#include <cctype>
#include <vector>

#include "parser/job/table_reader.h"
#include "sim/cutting/material.h"

namespace proveout::run {
namespace {

// Lower case, letters and digits only.
std::string plain(std::string_view word) {
  std::string out;
  for (const char c : word) {
    if (std::isalnum(static_cast<unsigned char>(c)))
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  return out;
}

struct Everyday {
  std::string_view word, name;
};
constexpr std::array everyday = {Everyday{"aluminium", "6061-T6"},
                                 Everyday{"aluminum", "6061-T6"},
                                 Everyday{"alu", "6061-T6"},
                                 Everyday{"6061", "6061-T6"},
                                 Everyday{"6061t651", "6061-T6"},
                                 Everyday{"6082", "6061-T6"},
                                 Everyday{"7075", "7075-T6"},
                                 Everyday{"7075t651", "7075-T6"},
                                 Everyday{"cz121", "brass"},
                                 Everyday{"steel", "mild steel"},
                                 Everyday{"mildsteel", "mild steel"},
                                 Everyday{"1018", "mild steel"},
                                 Everyday{"s235", "mild steel"},
                                 Everyday{"ply", "plywood"},
                                 Everyday{"birchply", "plywood"},
                                 Everyday{"fibreboard", "mdf"},
                                 Everyday{"fiberboard", "mdf"},
                                 Everyday{"oak", "hardwood"},
                                 Everyday{"beech", "hardwood"},
                                 Everyday{"maple", "hardwood"},
                                 Everyday{"walnut", "hardwood"},
                                 Everyday{"ash", "hardwood"},
                                 Everyday{"wood", "hardwood"},
                                 Everyday{"pom", "acetal"},
                                 Everyday{"polyoxymethylene", "acetal"},
                                 Everyday{"pla", "printed plastic"}};

}  // namespace

std::optional<MaterialMeant> material_meant(std::string_view word) {
  const std::string wanted = plain(word);
  if (wanted.empty()) return std::nullopt;
  std::vector<std::string> known;
  for (const cutting::Material& m : cutting::built_in_materials()) {
    if (!m.cuttable) continue;
    if (plain(m.name) == wanted) return MaterialMeant{m.name, true, m.name};
    known.push_back(plain(m.name));
  }
  for (const Everyday& e : everyday) {
    if (wanted == e.word)
      return MaterialMeant{std::string(e.name), false, fmt::format("{} taken as {}", word, e.name)};
    known.emplace_back(e.word);
  }
  if (wanted.size() < 4) return std::nullopt;
  const std::string near = job::nearest_word(wanted, known);
  if (near.empty() || near == wanted) return std::nullopt;
  auto out = material_meant(near);
  if (out) *out = {out->name, false, fmt::format("{} read as {}", word, out->name)};
  return out;
}

}  // namespace proveout::run
