// The axial depth met, against the tool's limit or the material's rule for full slots.
#include <fmt/format.h>

#include <algorithm>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

// Of the diameter: material no wider than this tells no depth (chosen: a skin's twentieth, and a
// bearing column's width at the rim).
constexpr double sliver_share = 0.08;

class OverDepth : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    const stock::EngagementSample& s = sample.engagement;
    const cutting::Material& material = use_.context.material;
    const double slack = slack_of(s);
    // A sliver beside or above the cut is as little a deep cut as a skin: looked at only where the
    // extent is over.
    const double limit = use_.limits.axial_depth > 0
                             ? use_.limits.axial_depth
                             : material.depth_per_diameter * use_.tool.diameter;
    if (!(limit > 0) || !(s.axial_depth > limit + slack)) return;
    const double deep = cutting::depth_over_width(sample.area, use_.model.profile(),
                                                  sliver_share * use_.tool.diameter);
    const double slot = cutting::depth_over_arc(sample.area, use_.model.profile(), 150);
    if (!is_skin(s, use_.tool) && use_.limits.axial_depth > 0 &&
        std::min<double>(deep, s.axial_depth) > use_.limits.axial_depth + slack) {
      Finding f = finding(sample, FindingKind::over_depth, Severity::error);
      f.value = std::min<double>(deep, s.axial_depth);
      f.limit = use_.limits.axial_depth;
      f.unit = "mm";
      f.text = fmt::format("cuts {:.2f} mm deep, {:.2f} allowed for this tool", f.value, f.limit);
      findings.add(std::move(f));
    } else if (use_.limits.axial_depth <= 0 && material.depth_per_diameter > 0 && is_slot(s) &&
               job::mills(use_.tool) &&
               std::min<double>(slot, s.axial_depth) >
                   material.depth_per_diameter * use_.tool.diameter + slack) {
      Finding f = finding(sample, FindingKind::over_depth, Severity::warning);
      f.value = std::min<double>(slot, s.axial_depth);
      f.limit = material.depth_per_diameter * use_.tool.diameter;
      f.unit = "mm";
      f.text = fmt::format("a full slot {:.2f} mm deep; {:.2f} is the rule in {} (assumed)",
                           f.value, f.limit, material.name);
      findings.add(std::move(f));
    }
  }
};

// Without a limit full slots alone are judged, by the material's rule, and drills not at all.
std::vector<run::NotChecked> lacks_limits(const run::JobContext& context) {
  const std::string& material = context.material.name;
  const auto limited = [&](const job::Tool& t) { return t.limits_for(material).axial_depth > 0; };
  const bool rule = context.material.depth_per_diameter > 0;
  return lacking_a_limit(context, "axial_depth", limited, rule, "full slots alone are judged");
}

}  // namespace

constinit const run::Check kinds::over_depth{
    .kind = FindingKind::over_depth,
    .level = Severity::error,
    .meaning = "the axial depth met is more than this tool may take in this material",
    .help =
        "Add passes, or use a tool that may go that deep. The limit comes from the job file or the "
        "material table.",
    .for_tool = run::start<OverDepth>,
    .lacks = run::Lack::tool_limits,
    .not_checked = lacks_limits};

}  // namespace proveout::checks
