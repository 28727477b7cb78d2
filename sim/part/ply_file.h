// PLY files (Turk, "The PLY polygon file format", 1994), text and both binary forms.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "parser/base/geometry.h"

namespace proveout::part {

// Faces as the file has them: counts[f] corners each, one face's corners after another's.
struct Polygons {
  std::vector<Vec3> places;  // in the file's unit
  std::vector<std::uint32_t> counts, corners;
};

// What is wrong with a file, in words to end "this mesh ...".
struct PlyError {
  const char* code;  // mesh-cut-short: it does not hold what it says; mesh-bad-index
  std::string words;
};

bool begins_as_ply(std::string_view bytes);

// bytes: the whole file. Reads x, y and z of element vertex and vertex_indices (or vertex_index) of
// element face, and steps over all else. Room is made only for what the file's length can hold: a
// file of a hundred bytes may claim any number of corners.
std::variant<Polygons, PlyError> read_ply(std::string_view bytes);

}  // namespace proveout::part
