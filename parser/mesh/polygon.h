// A flat polygon of any shape cut into triangles.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "parser/base/geometry.h"

namespace proveout::mesh {

// corners: of the polygon, in order; numbers into the list of places are given back as they came.
// By ears (Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975) 648-651) in the
// plane of its area; what is not flat or crosses itself is cut somehow, each edge once either way.
std::vector<std::array<std::uint32_t, 3>> triangles_of(std::span<const std::uint32_t> corners,
                                                       std::span<const Vec3> places);

}  // namespace proveout::mesh
