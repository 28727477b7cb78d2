// STL files (common practice; the form goes back to stereolithography, no standard): text and
// binary.
#pragma once

#include <string_view>
#include <variant>

#include "parser/mesh/polygons.h"

namespace proveout::mesh {

// Whether bytes may be STL: text from "solid" on, or of the length a binary file's count asks for.
bool looks_like_stl(std::string_view bytes);

// bytes: the whole file. Normals are passed over: the order of the corners tells the outside.
// Errors: mesh-cut-short, mesh-unreadable, mesh-too-fine.
std::variant<Polygons, MeshFileError> read_stl(std::string_view bytes);

}  // namespace proveout::mesh
