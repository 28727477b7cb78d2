// Rapids through material. The ways that a rapid may take beside its straight one, and first moves
// from unknown places, are clearance_check.cpp's, of the same kind.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/checks/registry.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

// A rapid that takes less than this many voxels of material is not told from a touching surface.
constexpr double rapid_voxels = 2.0;

void look(const run::SetupContext&, const run::SetupCut& setup, FindingCollector& findings) {
  const double least_mm3 = rapid_voxels * std::pow(setup.voxel, 3);
  for (std::size_t i = 0; i < setup.source->motions.size(); ++i) {
    const nc::Motion& m = setup.source->motions[i];
    const stock::MotionOutcome& outcome = setup.cut.motions[i];
    if (m.kind != nc::PathKind::rapid || !(outcome.removed_mm3 > least_mm3)) continue;
    double depth = 0;
    for (std::uint32_t s = 0; s < outcome.sample_count; ++s)
      depth = std::max<double>(depth, setup.cut.samples[outcome.first_sample + s].axial_depth);
    Finding f = run::motion_finding(setup, m, FindingKind::rapid_contact, Severity::error);
    f.value = outcome.removed_mm3;
    f.unit = "mm3";
    f.text = fmt::format("a rapid runs through material: {:.2f} mm3 taken, {:.2f} mm deep",
                         outcome.removed_mm3, depth);
    findings.add(std::move(f));
  }
}

}  // namespace

constinit const run::Check kinds::rapid_contact{
    .kind = FindingKind::rapid_contact,
    .level = Severity::error,
    .meaning = "a rapid move runs through material",
    .help = "Raise the retract plane, or approach from above.",
    .after_cut = look};

}  // namespace proveout::checks
