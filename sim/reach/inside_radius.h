// The smallest inside radius of the part's upright walls: what a cutter's radius must not exceed.
#pragma once

#include <functional>
#include <optional>

#include "parser/base/geometry.h"
#include "parser/mesh/mesh.h"

namespace proveout::reach {

// Two facets that turn by less stand for a rounding (choice; chords of an arc turn far less).
inline constexpr double sharp_turn = 40 / deg_per_rad;

struct InsideRadius {
  double radius = 0;       // mm; 0: a sharp inside corner
  Vec3 at = Vec3::Zero();  // mm, in the mesh's frame
};

// Of all upright inside corners the least radius. Facets whose corners lie on one upright circle,
// to 0.002 mm and at four places or more, are an arc of it, however far apart the places are and
// whether or not those of the upper rim lie over those of the lower: turns from place to place may
// be any, below 40 degrees in the mean. Where there is no such arc the two facets at an edge (along
// z) count: two chords of length w that turn by d belong to a circle of radius w / 2 / tan(d / 2)
// touching them (of unequal chords the shorter counts); a turn of 40 degrees or more is a sharp
// corner. seen: whether a place just off the edge, towards the open (unit), counts. nullopt: there
// is no such edge. Walls that lean by more than 2 degrees, and fillets between wall and floor, are
// left out; walls that lean by less are told by their chords.
std::optional<InsideRadius> smallest_inside_radius(
    const mesh::Mesh& mesh, const std::function<bool(const Vec3& at, const Vec3& open)>& seen);

}  // namespace proveout::reach
