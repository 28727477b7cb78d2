// Surface of the part that lies open to no setup, or where no tool of the list fits, where that is
// more than a thousandth of the part's and 1 mm2. Told by sim/reach, from the part alone, with
// height maps of at most about 100,000 points over the part, fewer where a wide tool would take
// minutes.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
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

void look(const run::JobContext& context, FindingCollector& findings) {
  const run::JobResult& result = context.result;
  if (context.part == nullptr || result.setups.empty()) return;
  const mesh::Mesh& part = *context.part;
  const reach::Reach r = reach::reach(result.job, part, coarse_step(result.job, part));
  add_unreached(result, r, r.undercut_mm2, r.undercut_at, "no setup sees", "undercut", findings);
  add_unreached(result, r, r.too_tight_mm2, r.too_tight_at, "no tool of the list fits on",
                "too tight", findings);
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
