// PLY files (Turk, "The PLY polygon file format", 1994), text and both binary forms.
#pragma once

#include <string_view>
#include <variant>

#include "parser/mesh/polygons.h"

namespace proveout::mesh {

bool begins_as_ply(std::string_view bytes);

// bytes: the whole file. Reads x, y and z of element vertex and vertex_indices (or vertex_index) of
// element face, and steps over all else. Room is made only for what the file's length can hold: a
// file of a hundred bytes may claim any number of corners.
std::variant<Polygons, MeshFileError> read_ply(std::string_view bytes);

}  // namespace proveout::mesh
