// For a target mass: how far each floor, wall and face of the part would have to be moved, and what
// would be left behind it.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "sim/run/result.h"
#include "sim/solid/part_distance.h"

namespace proveout::after {

enum class FaceKind : std::uint8_t { floor, wall, face };  // face: none of the part lies beyond it
constexpr std::string_view name(FaceKind kind) {
  return kind == FaceKind::floor ? "floor" : kind == FaceKind::wall ? "wall" : "face";
}

struct MassFace {
  FaceKind kind = FaceKind::face;
  Vec3 at = Vec3::Zero();      // mm, stock coordinates: a place on it near its middle
  Vec3 normal = Vec3::Zero();  // unit, stock axes, out of the part there
  double area_mm2 = 0;
  double depth = 0;  // mm, a floor's below the part's extent that way; else 0
  double web = 0;    // mm: least thickness of the part behind it, square to it, as sampled
  // mm, least way before it, square to it: to the blank's face, or half that to more of the part,
  // which may close in as well; as sampled.
  double room = 0;
  double g_per_mm = 0;   // what moving it by one mm outwards puts on, to first order
  double mm = 0;         // outwards, so far that the target is met; negative: inwards
  double web_after = 0;  // mm: web + mm
  // Moved so far inwards something stays behind it; outwards it stays in the blank, short of what
  // is before it, and a floor below the rim.
  bool within_reach = false;
};

// part: stock coordinates, mm. axes: the tools' axes in stock coordinates, unit, of all setups:
// what lies within 10 degrees of square to one is a floor or a face, what lies within 17 degrees of
// along all of them a wall; what slopes more is left out. Triangles of one kind that meet at less
// than 30 degrees are one. density: g/cm3. missing_g: negative where the part is too heavy. Those
// of less than 1 % of the part's surface are left out; the largest twelve, by area. Volume of a
// surface moved by t along its normals: area times t, to first order in t.
// blank: its box, stock coordinates, mm.
std::vector<MassFace> mass_faces(const solid::PartDistance& part, const std::vector<Vec3>& axes,
                                 const Box3& blank, double density, double missing_g);

// Of a run with a target mass and a part mesh; else empty.
std::vector<MassFace> mass_faces(const run::JobResult& result);

}  // namespace proveout::after
