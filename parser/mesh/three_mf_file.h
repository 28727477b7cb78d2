// 3MF files (3MF Consortium, "3D Manufacturing Format: Core Specification" 1.3): meshes of the
// items that are to be built, in mm.
#pragma once

#include <string_view>
#include <variant>

#include "parser/mesh/polygons.h"

namespace proveout::mesh {

bool begins_as_zip(std::string_view bytes);

// bytes: the whole file. Unit, components and transforms are followed; parts in further model files
// (the production extension) are refused. Depth of components and number of triangles are bounded
// before they are put together. Errors: mesh-unreadable, mesh-bad-index, mesh-too-fine.
std::variant<Polygons, MeshFileError> read_three_mf(std::string_view bytes);

}  // namespace proveout::mesh
