#include "sim/checks/reach_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

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
    if (t.shape != job::ToolShape::drill) smallest = std::min(smallest, t.diameter);
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

void add_unreached(const run::JobResult& result, const reach::Reach& reach, double area, const Vec3& at,
                   const char* what, const char* detail, FindingCollector& findings) {
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

}  // namespace

void judge_unreached(const run::JobResult& result, const mesh::Mesh& part, FindingCollector& findings) {
  if (result.setups.empty()) return;
  const reach::Reach r = reach::reach(result.job, part, coarse_step(result.job, part));
  add_unreached(result, r, r.undercut_mm2, r.undercut_at, "no setup sees", "undercut", findings);
  add_unreached(result, r, r.too_tight_mm2, r.too_tight_at, "no tool of the list fits on",
                "too tight", findings);
}

void judge_over_reach(const run::JobResult& result, FindingCollector& findings) {
  for (const run::SetupResult& setup : result.setups) {
    for (const run::ToolResult& used : setup.tools) {
      const auto tool = std::find_if(result.job.tools.begin(), result.job.tools.end(),
                                     [&](const job::Tool& t) { return t.number == used.number; });
      if (tool == result.job.tools.end() || tool->shape == job::ToolShape::drill) continue;
      const double has = tool->stickout / tool->diameter;
      const double needs = used.stickout_needed / tool->diameter;
      // Set further out than it bears counts even where less would do: it can be pushed in.
      const double worst = std::max(has, needs);
      if (worst <= stickout_caution) continue;
      Finding f;
      f.kind = FindingKind::over_reach;
      f.level = worst > stickout_special ? Severity::warning : Severity::note;
      f.setup = setup.name;
      f.tool = used.number;
      f.file = setup.program;
      f.value = worst;
      f.limit = f.level == Severity::warning ? stickout_special : stickout_caution;
      f.unit = "diameters";
      f.text = fmt::format("stands out {:.1f} mm, {:.1f} diameters", tool->stickout, has);
      if (used.stickout_needed > 0)
        f.text += fmt::format("; the programs need {:.1f} mm, {:.1f} diameters",
                              used.stickout_needed, needs);
      f.text += fmt::format(
          "; above {:g} takes care, above {:g} a tool made for it (common "
          "practice)",
          stickout_caution, stickout_special);
      findings.add(std::move(f));
    }
  }
}

}  // namespace proveout::checks
