// The stock's surface as mesh files. Both forms are little-endian binary.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "report/page/build/surface.h"
#include "report/page/build/surface_error.h"
#include "sim/run/result.h"

namespace proveout::files {
class FileSet;
}

namespace proveout::mesh_files {

// STL has no units and no colours; mm. surface: vertices mm, triangles counter-clockwise from
// outside. note: ASCII, cut after 80 characters, where the format has room for a remark.
std::string stl(const page::Surface& surface, const std::string& note = "stock, mm");
// PLY 1.0: x y z (mm) and, where the surface has them, made_by (number of the motion over the whole
// job, 0: the blank) and deviation (mm from the part, negative: missing). note: ASCII, one line.
std::string ply(const page::Surface& surface, const std::string& note = "stock, mm");

// 3MF (core specification 1.2, 3MF Consortium, an open standard): one object of triangles in
// millimetres. note: one line, text.
std::string three_mf(const page::Surface& surface, const std::string& note = "stock, mm");

struct WrittenMesh {
  std::string setup;          // its name
  std::size_t triangles = 0;  // of each of its three files
  page::SurfaceError error;   // against the stock's level set
};

// setup-N.stl, setup-N.ply and setup-N.3mf of every setup whose stock was kept, stock coordinates,
// cells as large as about most_vertices allow, never finer than the voxel, then flat places joined
// (simplify.h); each says how far it lies from the level set. They go to set. Throws
// files::WriteError.
std::vector<WrittenMesh> write_meshes(const run::JobResult& result,
                                      const std::filesystem::path& folder, files::FileSet& set,
                                      std::size_t most_vertices = 1'500'000);
// Section `meshes` of result.json.
nlohmann::ordered_json meshes_json(const std::vector<WrittenMesh>& meshes);

}  // namespace proveout::mesh_files
