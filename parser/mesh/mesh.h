// Closed triangle meshes read from files: the part, a blank of any shape, a fixture.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"

namespace proveout::mesh {

struct Mesh {
  std::vector<Vec3> vertices;                           // mm
  std::vector<std::array<std::uint32_t, 3>> triangles;  // counter-clockwise seen from outside
};

// Reads STL, PLY, OBJ or 3MF; every vertex is scaled (mm per unit) and then moved by origin (mm).
// Vertices at the same place are joined. Errors (codes): mesh-unreadable, mesh-empty, mesh-open,
// mesh-not-finite, mesh-too-large, mesh-too-fine (more than four million
// triangles), mesh-no-volume, and those of read_text_file. A mesh turned inside out is turned
// back with a warning (mesh-inside-out); triangles without area are dropped with a note
// (mesh-degenerate).
std::optional<Mesh> read_mesh(const std::filesystem::path& path, double scale, const Vec3& origin,
                              const std::string& what_it_is, Diagnostics& diagnostics);

struct MeshMass {
  double volume = 0;                                  // mm3
  Vec3 centre = Vec3::Zero();                         // mm
  Eigen::Matrix3d inertia = Eigen::Matrix3d::Zero();  // mm5 (density 1), about the centre
};
// By tetrahedra from the origin to every triangle (divergence theorem).
MeshMass mass_of(const Mesh& mesh);
Box3 bounds(const Mesh& mesh);

}  // namespace proveout::mesh
