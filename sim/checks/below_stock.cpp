// A tip that goes below the bottom of the blank, as the setup holds it.
#include <fmt/format.h>

#include <algorithm>
#include <limits>

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

void look(const run::SetupContext& context, const run::SetupCut& setup,
          FindingCollector& findings) {
  const double bottom = bottom_of(context.stock_box, setup.stock_from_setup.inverse());
  for (const nc::Motion& m : setup.source->motions) {
    const double below = bottom - nc::bounds(m).min().z();
    if (below <= 0.5 * setup.voxel) continue;
    Finding f = run::motion_finding(setup, m, FindingKind::below_stock, Severity::warning);
    f.value = below;
    f.unit = "mm";
    f.text = fmt::format("the tip goes {:.2f} mm below the bottom of the blank", below);
    findings.add(std::move(f));
  }
}

}  // namespace

constinit const run::Check kinds::below_stock{
    .kind = FindingKind::below_stock,
    .level = Severity::warning,
    .meaning = "the tip goes below the bottom of the stock",
    .help = "Check the zero and the depth; the bed or the vice lies there.",
    .after_cut = look};

}  // namespace proveout::checks
