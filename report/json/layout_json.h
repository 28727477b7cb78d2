// What `run --forecast --layout` writes (docs/commands.md): where blank, part, fixtures and paths
// lie before anything is cut.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "sim/pipeline/layout.h"

namespace proveout::json {

// A mesh of more triangles than this is left out: its box stands for it.
inline constexpr std::size_t most_drawn_triangles = 200000;

// Lengths mm, to a thousandth: for a picture, not for measuring.
nlohmann::ordered_json layout_json(const job::Job& job, const pipeline::JobPreview& preview);

}  // namespace proveout::json
