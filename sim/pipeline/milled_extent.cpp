#include "sim/pipeline/milled_extent.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
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

// A band that ends within a voxel of a ledge takes a part of it in or not, by chance of the grid:
// the one that is a voxel shorter at both ends counts then, and it is said. A wall that leans, or a
// chamfer, moves by about as much as its band is shortened; a ledge by more.
std::optional<std::pair<double, double>> clear_of_ledges(const run::JobResult& done,
                                                         const job::Setup& setup,
                                                         const Eigen::Matrix3d& turn,
                                                         Diagnostics& diagnostics) {
  const auto& band = setup.zero.band;
  if (!band) return band;
  const double shorter = std::min(done.voxel, (band->second - band->first) / 4);
  const std::pair<double, double> inner(band->first + shorter, band->second - shorter);
  const double longer = done.voxel / 2;
  const Box3 all = measure::extent(*done.stock, turn,
                                   std::pair(band->first - longer, band->second + longer)),
             within = measure::extent(*done.stock, turn, inner);
  if (all.isEmpty() || within.isEmpty()) return band;
  constexpr double least_jump = 2;  // voxels
  double jump = 0;
  const char* side = "";
  for (const auto& [apart, name] : {std::pair(within.min().x() - all.min().x(), "left"),
                                    std::pair(all.max().x() - within.max().x(), "right"),
                                    std::pair(within.min().y() - all.min().y(), "front"),
                                    std::pair(all.max().y() - within.max().y(), "back")}) {
    if (apart > jump) {
      jump = apart;
      side = name;
    }
  }
  if (jump <= least_jump * done.voxel) return band;
  diagnostics.warning(
      "zero-uncertain", {done.job.file.string(), setup.line, 0, 0},
      fmt::format("setup {}: the zero's band [{:g}, {:g}] ends at a ledge: on the {} the piece is "
                  "{:.2f} mm wider there than further in, where the zero is taken",
                  setup.name, band->first, band->second, side, jump),
      "let the band lie well within the face that is touched");
  return inner;
}

}  // namespace

Box3 milled_extent(const run::JobResult& done, const job::Setup& setup, Diagnostics& diagnostics) {
  const Eigen::Matrix3d turn = setup::machine_from_stock_rotation(setup.turn);
  const auto band = clear_of_ledges(done, setup, turn, diagnostics);
  const Box3 by_grid = measure::extent(*done.stock, turn, band);
  if (by_quarters(turn) || by_grid.isEmpty()) return by_grid;
  const measure::ExactExtent exact = by_motions(done, turn, band);
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
