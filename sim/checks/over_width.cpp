// The radial width met, against the tool's limit.
#include <fmt/format.h>

#include "sim/checks/cut_limits.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class OverWidth : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    const stock::EngagementSample& s = sample.engagement;
    const double limit = use_.limits.radial_width;
    if (!(limit > 0) || !(s.radial_width > limit + slack_of(s))) return;
    Finding f = finding(sample, FindingKind::over_width, Severity::error);
    f.value = s.radial_width;
    f.limit = limit;
    f.unit = "mm";
    f.text = fmt::format("cuts {:.2f} mm wide, {:.2f} allowed for this tool", f.value, f.limit);
    findings.add(std::move(f));
  }
};

std::vector<run::NotChecked> lacks_limits(const run::JobContext& context) {
  const std::string& material = context.material.name;
  const auto limited = [&](const job::Tool& t) { return t.limits_for(material).radial_width > 0; };
  // A drill is as wide as its hole.
  const std::string without =
      tools_that(context, [&](const job::Tool& t) { return !limited(t) && !is_drill(t); });
  if (without.empty()) return {};
  return {lacking_with_tools(context, "no limit radial_width for " + without, limited)};
}

}  // namespace

constinit const run::Check kinds::over_width{
    .kind = FindingKind::over_width,
    .level = Severity::error,
    .meaning = "the radial width met is more than this tool may take",
    .help = "Reduce the step-over.",
    .needs = "a tool limit radial_width",
    .for_tool = run::start<OverWidth>,
    .lacks = run::Lack::tool_limits,
    .not_checked = lacks_limits};

}  // namespace proveout::checks
