// Shank and holder in material.
#include <fmt/format.h>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

// Contact shallower than this share of a voxel is a touch, not a cut.
constexpr double contact_voxel_share = 0.5;

void look(const run::SetupCut& setup, FindingKind kind, const char* body,
          float stock::MotionOutcome::*depth_of, FindingCollector& findings) {
  for (std::size_t i = 0; i < setup.source->motions.size(); ++i) {
    const stock::MotionOutcome& outcome = setup.cut.motions[i];
    const double depth = outcome.*depth_of;
    if (!(depth > contact_voxel_share * setup.voxel)) continue;
    Finding f = run::motion_finding(setup, setup.source->motions[i], kind, Severity::error);
    f.at = outcome.contact_at;
    f.value = depth;
    f.unit = "mm";
    f.text = fmt::format("the {} goes {:.2f} mm into material", body, depth);
    findings.add(std::move(f));
  }
}

void look_at_shank(const run::SetupContext&, const run::SetupCut& setup,
                   FindingCollector& findings) {
  look(setup, FindingKind::shank_contact, "shank", &stock::MotionOutcome::shank_depth, findings);
}
void look_at_holder(const run::SetupContext&, const run::SetupCut& setup,
                    FindingCollector& findings) {
  look(setup, FindingKind::holder_contact, "holder", &stock::MotionOutcome::holder_depth, findings);
}

std::vector<run::NotChecked> lacks_holders(const run::JobContext& context) {
  const auto has = [](const job::Tool& t) { return !t.holder.empty(); };
  const std::string bare = tools_that(context, [&](const job::Tool& t) { return !has(t); });
  if (bare.empty()) return {};
  return {lacking_with_tools(context, "no holder is given for " + bare, has)};
}

}  // namespace

constinit const run::Check kinds::shank_contact{
    .kind = FindingKind::shank_contact,
    .level = Severity::error,
    .meaning = "the tool's shank meets material",
    .help = "Use a longer flute or a relieved shank, or clear the wall first.",
    .after_cut = look_at_shank};

constinit const run::Check kinds::holder_contact{
    .kind = FindingKind::holder_contact,
    .level = Severity::error,
    .meaning = "the tool's holder meets material",
    .help =
        "Set the tool further out, as far as stickout_needed says, or cut the wall from the other "
        "side.",
    .needs = "a holder on the tool",
    .after_cut = look_at_holder,
    .lacks = run::Lack::holders,
    .not_checked = lacks_holders};

}  // namespace proveout::checks
