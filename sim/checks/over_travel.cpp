// Machine coordinates of the tip against the travel: 0 to travel on an axis whose zero_in_machine
// is not negative, else -travel to 0.
#include <fmt/format.h>

#include <algorithm>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

void look(const run::SetupContext& context, const run::SetupCut& setup,
          FindingCollector& findings) {
  const auto& travel = context.job.machine.travel;
  const auto& zero = context.setup.zero_in_machine;
  if (!travel || !zero) return;
  for (const nc::Motion& m : setup.source->motions) {
    const Box3 box = nc::bounds(m);
    for (int k = 0; k < 3; ++k) {
      const double low = (*zero)[k] < 0 ? -(*travel)[k] : 0, high = low + (*travel)[k];
      const double beyond =
          std::max(low - (box.min()[k] + (*zero)[k]), box.max()[k] + (*zero)[k] - high);
      if (beyond <= 1e-6) continue;
      Finding f = run::motion_finding(setup, m, FindingKind::over_travel, Severity::error);
      f.unit = "mm";
      f.value = beyond;
      f.detail = std::string(1, "xyz"[k]);
      f.text = fmt::format("{} runs {:.2f} mm beyond the machine's travel", "XYZ"[k], beyond);
      findings.add(std::move(f));
    }
  }
}

std::vector<run::NotChecked> lacks_travel(const run::JobContext& context) {
  auto unplaced =
      setups_that(context, [](const job::Setup& s) { return !s.zero_in_machine.has_value(); });
  if (!context.job.machine.travel) {
    return {lacking("the machine's travel is not given" +
                    (unplaced.empty() ? "" : ", nor zero_in_machine for " + listed(unplaced)))};
  }
  if (unplaced.empty()) return {};
  const std::string why = "zero_in_machine is not given for " + listed(unplaced);
  return {lacking_in_setups(context, why, std::move(unplaced))};
}

}  // namespace

constinit const run::Check kinds::over_travel{
    .kind = FindingKind::over_travel,
    .level = Severity::error,
    .meaning = "the program leaves the machine's travel",
    .help = "Move the zero or the work; mind the park position and long tools.",
    .needs = "zero_in_machine and the machine's travel",
    .after_cut = look,
    .lacks = run::Lack::machine,
    .not_checked = lacks_travel};

}  // namespace proveout::checks
