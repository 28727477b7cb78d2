// Going down into material: with a tool that must not, or faster than its limit or the material's
// rule.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

// Wider above than below somewhere: it cannot come out the way it went in, and clears no chips.
bool is_undercut(const solid::EdgeProfile& profile) {
  return std::any_of(profile.slices().begin(), profile.slices().end(),
                     [](const solid::EdgeSlice& s) { return s.normal_height > 0.1; });
}

class Plunge : public run::ToolCheck {
 public:
  explicit Plunge(const run::ToolInSetup& use)
      : ToolCheck(use), undercut_(is_undercut(use.model.profile())) {}

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    const double down = sample.downward();
    if (down < std::sin(steepest_ramp)) return;
    const bool drill = !job::mills(use_.tool);
    if (!use_.tool.centre_cutting && !drill) {
      too_steep(sample, down, Severity::error, "a tool that does not cut at its centre", findings);
    } else if (undercut_) {
      too_steep(sample, down, Severity::warning, "an undercut tool", findings);
    } else if (use_.limits.plunge_feed > 0) {
      too_fast(sample, sample.speed * down, use_.limits.plunge_feed, findings);
    } else if (!drill && down >= straight_down) {
      by_the_rule(sample, sample.speed * down, findings);
    }
  }

 private:
  void too_steep(const run::CutSample& sample, double down, Severity level, const char* tool,
                 FindingCollector& findings) const {
    Finding f = finding(sample, FindingKind::plunge, level);
    f.value = std::asin(std::min(1.0, down)) * deg_per_rad;
    f.limit = steepest_ramp * deg_per_rad;
    f.unit = "deg";
    f.text = fmt::format("goes down at {:.0f} degrees with {}", f.value, tool);
    findings.add(std::move(f));
  }

  void too_fast(const run::CutSample& sample, double speed_down, double limit,
                FindingCollector& findings) const {
    if (!(speed_down > 1.02 * limit)) return;
    Finding f = finding(sample, FindingKind::plunge, Severity::error);
    f.value = speed_down;
    f.limit = limit;
    f.unit = "mm/min";
    f.text = fmt::format("goes down at {:.0f} mm/min in material, {:.0f} allowed for this tool",
                         f.value, f.limit);
    findings.add(std::move(f));
  }

  // Where the job says nothing: so much of the greatest chip a tooth (common practice: 10 to 30 %
  // of the feed in metals, 30 to 40 in wood, 40 to 50 in plastics). The skin of a wall it goes down
  // beside is no plunge.
  void by_the_rule(const run::CutSample& sample, double speed_down,
                   FindingCollector& findings) const {
    const double limit = plunge_rule(use_.context.material, use_.tool, sample.state.spindle_rpm);
    if (!sample.turning() || !(limit > 0) || !(speed_down > 1.02 * limit)) return;
    const double disc = pi * use_.tool.diameter * use_.tool.diameter / 4;
    if (sample.load.removal_mm3_min < least_share * disc * speed_down) return;
    Finding f = finding(sample, FindingKind::plunge, Severity::warning);
    f.value = speed_down;
    f.limit = limit;
    f.unit = "mm/min";
    f.text = fmt::format(
        "plunges straight down at {:.0f} mm/min; {:.0f} is the rule in {} for this tool and speed "
        "(assumed)",
        f.value, f.limit, use_.context.material.name);
    findings.add(std::move(f));
  }

  static constexpr double least_share = 0.05;  // of the tool's disc, ours
  bool undercut_;
};

// A tool that does not cut at its centre is judged by its slope in any case, others without a limit
// by the material's rule where they go straight down, drills not at all.
std::vector<run::NotChecked> lacks_limits(const run::JobContext& context) {
  const cutting::Material& material = context.material;
  const bool rule = material.plunge_share > 0;
  const auto limited = [&](const job::Tool& t) {
    const bool by_slope = !t.centre_cutting && !is_drill(t);
    return by_slope || t.limits_for(material.name).plunge_feed > 0;
  };
  return lacking_a_limit(context, "plunge_feed", limited, rule,
                         "straight plunges alone are judged");
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
