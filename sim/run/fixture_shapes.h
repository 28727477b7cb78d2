// A setup's fixtures as shapes: boxes, and meshes read from their files.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/input_files.h"
#include "parser/job/job.h"
#include "sim/clearance/clearance.h"
#include "sim/clearance/fixture_mesh.h"

namespace proveout::run {

struct FixtureShape {
  std::string name;
  Box3 box;                                            // setup frame; of a mesh: about it
  std::shared_ptr<const clearance::FixtureMesh> mesh;  // none: the box itself
  clearance::Barrier barrier;                          // the same for clearances
};

// Where a mesh comes from and how it lies.
struct MeshSource {
  const std::filesystem::path& file;
  double scale = 1;  // mm per unit of the file
  Vec3 origin;       // mm: where the mesh's own 0,0,0 goes
};
// nullopt with located errors in diagnostics: it cannot be used.
std::optional<mesh::Mesh> mesh_from(InputFiles& files, const MeshSource& source,
                                    const std::string& what_it_is, Diagnostics& diagnostics);

// False with located errors in diagnostics where a mesh cannot be used.
bool read_fixtures(const job::Setup& setup, InputFiles& files, std::vector<FixtureShape>& out,
                   Diagnostics& diagnostics);

std::vector<clearance::Barrier> barriers(const std::vector<FixtureShape>& fixtures);

}  // namespace proveout::run
