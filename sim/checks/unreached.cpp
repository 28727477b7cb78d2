// Surface of the part that lies open to no setup, or where no tool of the list fits, where that is
// more than a thousandth of the part's and 1 mm2. Told by sim/reach, from the part alone, with
// height maps of at most about 100,000 points over the part, fewer where a wide tool would take
// minutes; what the programs have cut clean is reached, whatever the map says.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/measure/probe.h"
#include "sim/reach/map_step.h"
#include "sim/reach/reach.h"
#include "sim/setup/pose.h"

namespace proveout::checks {
namespace {

constexpr double least_share = 0.001, least_mm2 = 1;
constexpr double most_points = 100e3;
constexpr double most_comparisons = 2e9;  // some seconds of a core

// A twelfth of the smallest cutter where the map and the work stay small; told with the finding.
double coarse_step(const job::Job& job, const mesh::Mesh& part) {
  double smallest = 6;
  for (const job::Tool& t : job.tools) {
    if (job::mills(t)) smallest = std::min(smallest, t.diameter);
  }
  double largest = 0;
  for (const job::Setup& s : job.setups) {
    const Vec3 size =
        setup::turned(mesh::bounds(part), setup::machine_from_stock_rotation(s.turn)).sizes();
    largest = std::max(largest, size.x() * size.y());
  }
  return reach::affordable_step(job, part,
                                std::max({0.02, smallest / 12, std::sqrt(largest / most_points)}),
                                most_comparisons);
}

void add_unreached(const run::JobResult& result, const reach::Reach& reach, double area,
                   const Vec3& at, const char* what, const char* detail,
                   FindingCollector& findings) {
  if (area <= std::max(least_mm2, least_share * reach.surface_mm2)) return;
  const run::SetupResult& setup = result.setups.front();
  Finding f;
  f.kind = FindingKind::unreached;
  f.level = Severity::warning;
  f.setup = setup.name;
  f.at = setup.stock_from_setup.inverse() * at;
  f.value = area;
  f.unit = "mm2";
  f.detail = detail;
  f.text = fmt::format(
      "{} {:.1f} mm2 of the part ({:.1f} %), e.g. at {:.1f}, {:.1f}, {:.1f} in stock coordinates "
      "(told to {:.2f} mm)",
      what, area, 100 * area / reach.surface_mm2, at.x(), at.y(), at.z(), reach.step);
  findings.add(std::move(f));
}

// What no tool reaches by the map, less what the run has cut clean all the same: the map is coarse,
// and a drill just fits its hole.
struct Unreached {
  double mm2 = 0;
  Vec3 at = Vec3::Zero();
  void add(const reach::PatchReach& patch) {
    if (mm2 == 0) at = patch.at;
    mm2 += patch.area;
  }
};

bool cut_clean(const measure::StockProbe& probe, const reach::PatchReach& patch, double voxel) {
  return std::abs(probe.at(patch.at)) <= voxel / 4 &&
         probe.at(patch.at + voxel * patch.outward) > voxel / 2;
}

void look(const run::JobContext& context, FindingCollector& findings) {
  const run::JobResult& result = context.result;
  if (context.part == nullptr || result.setups.empty()) return;
  const mesh::Mesh& part = *context.part;
  const reach::Reach r = reach::reach(result.job, part, coarse_step(result.job, part), true);
  const measure::StockProbe probe(*result.stock);
  Unreached undercut, too_tight;
  for (const reach::PatchReach& patch : r.patches) {
    const bool reached = std::any_of(patch.stickout.begin(), patch.stickout.end(),
                                     [](double stickout) { return stickout >= 0; });
    if (reached || patch.own_face || cut_clean(probe, patch, result.voxel)) continue;
    (patch.seen ? too_tight : undercut).add(patch);
  }
  add_unreached(result, r, undercut.mm2, undercut.at, "no setup sees", "undercut", findings);
  add_unreached(result, r, too_tight.mm2, too_tight.at, "no tool of the list fits on", "too tight",
                findings);
}

}  // namespace

constinit const run::Check kinds::unreached{.kind = FindingKind::unreached,
                                            .level = Severity::warning,
                                            .meaning = "no setup reaches this part of the surface",
                                            .help = "Change the split, or plan it by hand.",
                                            .needs = "a part mesh",
                                            .after_last = look,
                                            .lacks = run::Lack::part,
                                            .not_checked = lacking_a_part};

}  // namespace proveout::checks
