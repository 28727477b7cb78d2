// OBJ files (common practice; the form's own description of 1995, from memory): corners and faces.
#pragma once

#include <string_view>
#include <variant>

#include "parser/mesh/polygons.h"

namespace proveout::mesh {

// bytes: the whole file. Reads v and f; all else, names of other files too, is passed over.
// Errors: mesh-bad-index, mesh-unreadable, mesh-too-fine.
std::variant<Polygons, MeshFileError> read_obj(std::string_view bytes);

}  // namespace proveout::mesh
