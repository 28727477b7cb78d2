// The blank and what it is of: as given, as comments say, or as large as what the programs cut.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "sim/propose/proposal.h"
#include "sim/propose/tools.h"

namespace proveout::propose {

// From the comments; no value (zero) where none names it, open where two name it differently, or
// where its unit is not said and the program's goes badly with the cuts of the first program.
Known<Vec3> blank_said(std::span<const ProgramText> programs,
                       std::span<const SetupProposal> setups);

// What stands in where nobody says it: about the feed moves of the first program, and no smaller
// than the part (mm, its box's sizes; zero: no part).
Known<Vec3> blank_shown(std::span<const SetupProposal> setups, const Vec3& part,
                        double largest_tool);

// given: empty, or the name asked for. The built-in materials' own names, in any case, everyday
// names, the nearest spelling; what was taken is in the words.
Known<std::string> material_of(const std::string& given, std::span<const ProgramText> programs);

// "160x60x32", "160 x 60 x 32 mm", "6.3x2.4x1.25in"; nullopt: not three sizes.
std::optional<Vec3> sizes_from(std::string_view text);

}  // namespace proveout::propose
