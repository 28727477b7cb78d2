// Going down into material too steeply for the tool, or faster than its limit.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class Plunge : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    const double down = sample.downward();
    if (down < std::sin(steepest_ramp)) return;
    if (!use_.tool.centre_cutting && job::mills(use_.tool))
      too_steep(sample, down, findings);
    else
      too_fast(sample, sample.speed * down, findings);
  }

 private:
  void too_steep(const run::CutSample& sample, double down, FindingCollector& findings) const {
    Finding f = finding(sample, FindingKind::plunge, Severity::error);
    f.value = std::asin(std::min(1.0, down)) * deg_per_rad;
    f.limit = steepest_ramp * deg_per_rad;
    f.unit = "deg";
    f.text = fmt::format("goes down at {:.0f} degrees with a tool that does not cut at its centre",
                         f.value);
    findings.add(std::move(f));
  }

  void too_fast(const run::CutSample& sample, double speed_down, FindingCollector& findings) const {
    const double limit = use_.limits.plunge_feed;
    if (!(limit > 0) || !(speed_down > 1.02 * limit)) return;
    Finding f = finding(sample, FindingKind::plunge, Severity::error);
    f.value = speed_down;
    f.limit = limit;
    f.unit = "mm/min";
    f.text = fmt::format("goes down at {:.0f} mm/min in material, {:.0f} allowed for this tool",
                         f.value, f.limit);
    findings.add(std::move(f));
  }
};

// A tool that does not cut at its centre is judged by its slope in any case.
std::vector<run::NotChecked> lacks_limits(const run::JobContext& context) {
  const std::string& material = context.material.name;
  const auto judged = [&](const job::Tool& t) {
    const bool by_slope = !t.centre_cutting && !is_drill(t);
    return by_slope || t.limits_for(material).plunge_feed > 0;
  };
  const std::string without = tools_that(context, [&](const job::Tool& t) { return !judged(t); });
  if (without.empty()) return {};
  return {lacking_with_tools(context, "no limit plunge_feed for " + without, judged)};
}

}  // namespace

constinit const run::Check kinds::plunge{
    .kind = FindingKind::plunge,
    .level = Severity::error,
    .meaning = "the tool goes down too steeply or too fast in material",
    .help = "Ramp or spiral in, or use a slower plunge feed.",
    .for_tool = run::start<Plunge>,
    .lacks = run::Lack::tool_limits,
    .not_checked = lacks_limits};

}  // namespace proveout::checks
