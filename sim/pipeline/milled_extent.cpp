#include "sim/pipeline/milled_extent.h"

#include <fmt/format.h>

#include <cmath>
#include <optional>
#include <vector>

#include "sim/measure/exact_extent.h"
#include "sim/measure/measure.h"
#include "sim/measure/two_way.h"
#include "sim/run/inputs.h"
#include "sim/run/tool_runs.h"
#include "sim/setup/pose.h"

namespace proveout::pipeline {
namespace {

bool by_quarters(const Eigen::Matrix3d& rotation) {
  return (rotation.array() - rotation.array().round()).abs().maxCoeff() < 1e-12;
}

measure::ExactExtent by_motions(const run::JobResult& done, const Eigen::Matrix3d& turn,
                                const std::optional<std::pair<double, double>>& band) {
  const run::Inputs& in = *done.inputs;
  std::vector<stock::SetupMotions> setups;
  for (const run::SetupResult& s : done.setups) {
    setups.push_back(
        {s.source->motions, run::tool_runs(*s.source, in.bodies), s.stock_from_setup, s.first_id});
  }
  std::optional<solid::FaceTree> faces;
  if (in.blank_mesh) faces.emplace(*in.blank_mesh);
  const Vec3 margin = Vec3::Constant(4 * done.voxel);
  const stock::ExactStock exact({in.blank, faces ? &*faces : nullptr}, setups,
                                Box3(in.blank.min() - margin, in.blank.max() + margin),
                                measure::comparison_tile_voxels * done.voxel);
  return measure::exact_extent(*done.stock, exact, turn, band);
}

}  // namespace

Box3 milled_extent(const run::JobResult& done, const job::Setup& setup, Diagnostics& diagnostics) {
  const Eigen::Matrix3d turn = setup::machine_from_stock_rotation(setup.turn);
  const Box3 by_grid = measure::extent(*done.stock, turn, setup.zero.band);
  if (by_quarters(turn) || by_grid.isEmpty()) return by_grid;
  const measure::ExactExtent exact = by_motions(done, turn, setup.zero.band);
  // The grid's faces lie within the material, by a voxel at most where an edge is not very sharp.
  constexpr double most_apart = 3, most_off = 0.02;  // voxels, choices
  Box3 all = exact.box;
  all.extend(by_grid);
  double apart = exact.box.isEmpty() ? 1e9 : 0;
  if (!exact.box.isEmpty())
    apart =
        std::max((all.max() - by_grid.max()).maxCoeff(), (by_grid.min() - all.min()).maxCoeff());
  const double off = std::max(exact.open, exact.beyond);
  if (apart <= most_apart * done.voxel && off <= most_off * done.voxel) return exact.box;
  diagnostics.warning(
      "zero-uncertain", {done.job.file.string(), setup.line, 0, 0},
      exact.box.isEmpty()
          ? fmt::format("setup {}: the milled faces its zero is taken from were found in the grid "
                        "only, to about half a voxel ({:g} mm)",
                        setup.name, done.voxel)
          : fmt::format("setup {}: the milled faces its zero is taken from are known to {:.3f} mm "
                        "only: two ways of finding them differ",
                        setup.name, std::max(off, apart)),
      "touch off on the work and compare, or give the zero as `at`");
  return all;
}

}  // namespace proveout::pipeline
