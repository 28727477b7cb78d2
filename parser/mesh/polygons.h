// What the readers of mesh files hand over.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "parser/base/geometry.h"

namespace proveout::mesh {

// Faces as the file has them: counts[f] corners each, one face's corners after another's.
struct Polygons {
  std::vector<Vec3> places;  // in the file's unit, 3MF in mm
  std::vector<std::uint32_t> counts, corners;
};

// What is wrong with a file, in words to end "this mesh ...".
struct MeshFileError {
  const char*
      code;  // mesh-cut-short: it does not hold what it says; mesh-bad-index; mesh-unreadable
  std::string words;
};

// No file may hold more: none a router could show, and time and memory stay bounded.
inline constexpr std::size_t most_triangles = 4'000'000;
inline constexpr std::size_t most_face_corners = 2'000;

}  // namespace proveout::mesh
