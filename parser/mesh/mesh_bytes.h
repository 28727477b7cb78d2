// Meshes of bytes that were read already.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "parser/mesh/mesh.h"

namespace proveout::mesh {

inline constexpr std::uintmax_t most_mesh_bytes = std::uintmax_t{2} << 30;

// As read_mesh; path names the bytes in messages, and by its ending their format. Further errors of
// both: mesh-turned (closed, but some triangles face against their neighbours). Triangles that
// stand there more than once count once, with a warning (mesh-doubled).
std::optional<Mesh> mesh_of(std::string_view bytes, const std::filesystem::path& path, double scale,
                            const Vec3& origin, const std::string& what_it_is,
                            Diagnostics& diagnostics);

}  // namespace proveout::mesh
