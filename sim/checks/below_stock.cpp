// A tip that goes below the bottom of the blank, as the setup holds it. What cuts through goes a
// little below, and a drill its point more (common practice, no source); further down lies what the
// work stands on.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "parser/job/find_tool.h"
#include "parser/job/tool_shape.h"
#include "sim/checks/registry.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

// The lowest corner of the blank seen along the tool's axis, mm, setup frame.
double bottom_of(const Box3& blank, const RigidMotion& setup_from_stock) {
  double bottom = std::numeric_limits<double>::infinity();
  for (int corner = 0; corner < 8; ++corner) {
    const Vec3 p = blank.corner(static_cast<Box3::CornerType>(corner));
    bottom = std::min(bottom, (setup_from_stock * p).z());
  }
  return bottom;
}

constexpr double through = 2.0;  // mm below the bottom at most, to cut through

// How much of a tool's end does not cut its full diameter, mm: a drill's point.
double point_of(const std::vector<job::Tool>& tools, int number) {
  const job::Tool* tool = job::find_tool(tools, number);
  if (tool == nullptr || job::mills(*tool) || !(tool->tip_angle > 0)) return 0;
  return 0.5 * tool->diameter / std::tan(0.5 * tool->tip_angle / deg_per_rad);
}

void look(const run::SetupContext& context, const run::SetupCut& setup,
          FindingCollector& findings) {
  const double bottom = bottom_of(context.stock_box, setup.stock_from_setup.inverse());
  for (const nc::Motion& m : setup.source->motions) {
    const double below = bottom - nc::bounds(m).min().z();
    if (below <= 0.5 * setup.voxel) continue;
    const double point = point_of(context.job.tools, setup.source->states[m.state].tool);
    const bool deep = below > through + point;
    Finding f = run::motion_finding(setup, m, FindingKind::below_stock,
                                    deep ? Severity::error : Severity::warning);
    f.value = below;
    f.unit = "mm";
    f.text = fmt::format("the tip goes {:.2f} mm below the bottom of the blank{}{}", below,
                         deep ? ", into what it lies on" : "",
                         m.kind == nc::PathKind::rapid ? ", on a rapid" : "");
    findings.add(std::move(f));
  }
}

}  // namespace

constinit const run::Check kinds::below_stock{
    .kind = FindingKind::below_stock,
    .level = Severity::error,
    .meaning =
        "the tip goes below the bottom of the stock; an error by more than 2 mm (a drill: and its "
        "point), a warning as far as cuts go through",
    .help = "Check the zero and the depth; the bed or the vice lies there.",
    .after_cut = look};

}  // namespace proveout::checks
