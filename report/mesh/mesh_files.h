// The stock's surface as mesh files. Both forms are little-endian binary.
#pragma once

#include <filesystem>
#include <string>

#include "report/page_data/page_data.h"
#include "sim/run/result.h"

namespace proveout::mesh {

// STL has no units and no colours; mm. surface: vertices mm, triangles counter-clockwise from
// outside.
std::string stl(const page::Surface& surface);
// PLY 1.0: x y z (mm) and, where the surface has them, made_by (number of the motion over the whole
// job, 0: the blank) and deviation (mm from the part, negative: missing).
std::string ply(const page::Surface& surface);

// 3MF (core specification 1.2, 3MF Consortium, an open standard): one object of triangles in
// millimetres.
std::string three_mf(const page::Surface& surface);

// setup-N.stl, setup-N.ply and setup-N.3mf of every setup whose stock was kept, stock coordinates,
// of about most_vertices vertices. Throws files::WriteError.
void write_meshes(const run::JobResult& result, const std::filesystem::path& folder,
                  std::size_t most_vertices = 400'000);

}  // namespace proveout::mesh
