#include "report/mesh/measured_mesh.h"

#include <utility>
#include <vector>

#include "report/mesh/simplify.h"

namespace proveout::mesh_files {
namespace {

constexpr double flat_within_voxels = 0.05;
// Edges are rounded by less; what lies further off was made by joining.
constexpr double off_voxels = 0.5;
constexpr double untouched_voxels = 3;
constexpr int most_rounds = 4;

}  // namespace

MeasuredMesh measured_mesh(const stock::Stock& stock, const page::Surface& surface,
                           const stock::ExactStock* exact) {
  const double flat = flat_within_voxels * stock.voxel(), off_by = off_voxels * stock.voxel();
  std::vector<Vec3> untouched;
  MeasuredMesh best;
  for (int round = 0; round < most_rounds; ++round) {
    MeasuredMesh now;
    now.surface = simplified(surface, flat, untouched, untouched_voxels * stock.voxel());
    now.error = page::surface_error(stock, now.surface, off_by, exact);
    const std::vector<Vec3> off = std::exchange(now.error.off, {});
    const bool better = round == 0 || now.error.furthest < best.error.furthest;
    if (better) best = std::move(now);
    // Where leaving the triangles as they were did not help, they are not to blame.
    if (off.empty() || !better) break;
    untouched.insert(untouched.end(), off.begin(), off.end());
  }
  return best;
}

}  // namespace proveout::mesh_files
