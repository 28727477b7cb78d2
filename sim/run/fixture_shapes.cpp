#include "sim/run/fixture_shapes.h"

#include <algorithm>

#include "parser/mesh/mesh_bytes.h"

namespace proveout::run {
namespace {

// Columns over a mesh: some hundreds of cells across, no finer than a tenth of a millimetre.
std::shared_ptr<const clearance::ColumnMap> columns_over(const mesh::Mesh& mesh, const Box3& box) {
  const double cell = std::clamp(std::max(box.sizes().x(), box.sizes().y()) / 400, 0.1, 2.0);
  auto map = std::make_shared<clearance::ColumnMap>(box, cell, 0);
  map->raise(mesh);
  map->build_tree();
  return map;
}

}  // namespace

std::optional<mesh::Mesh> mesh_from(InputFiles& files, const MeshSource& source,
                                    const std::string& what_it_is, Diagnostics& diagnostics) {
  const auto bytes = files.read(source.file, what_it_is, diagnostics, mesh::most_mesh_bytes);
  if (!bytes) return std::nullopt;
  return mesh::mesh_of(*bytes, source.file, source.scale, source.origin, what_it_is, diagnostics);
}

bool read_fixtures(const job::Setup& setup, InputFiles& files, std::vector<FixtureShape>& out,
                   Diagnostics& diagnostics) {
  bool ok = true;
  for (const job::Fixture& f : setup.fixtures) {
    FixtureShape shape;
    shape.name = f.name;
    if (f.box) {
      shape.box = *f.box;
    } else {
      auto mesh = mesh_from(files, {f.mesh, f.mesh_scale, f.origin}, "fixture mesh", diagnostics);
      if (!mesh) {
        ok = false;
        continue;
      }
      shape.mesh = std::make_shared<const clearance::FixtureMesh>(std::move(*mesh));
      shape.box = shape.mesh->box();
    }
    shape.barrier.name = f.name;
    shape.barrier.box = shape.box;
    if (shape.mesh) shape.barrier.columns = columns_over(shape.mesh->mesh(), shape.box);
    out.push_back(std::move(shape));
  }
  return ok;
}

std::vector<clearance::Barrier> barriers(const std::vector<FixtureShape>& fixtures) {
  std::vector<clearance::Barrier> out;
  for (const FixtureShape& f : fixtures) out.push_back(f.barrier);
  return out;
}

}  // namespace proveout::run
