// How far the cutting force bends the tool at its tip.
#include <fmt/format.h>

#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

constexpr double bend_limit_mm = 0.05;  // common practice for roughing, no source

class OverBend : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    if (!sample.turning() || !(sample.load.bend_mm > bend_limit_mm)) return;
    Finding f = finding(sample, FindingKind::over_bend, Severity::warning);
    f.value = sample.load.bend_mm;
    f.limit = bend_limit_mm;
    f.unit = "mm";
    f.text = fmt::format(
        "{} {:.3f} mm, {:.3f} is the rule (assumed); {:.3f} mm of it stay on the "
        "finished wall",
        use_.context.job.machine.stiffness ? "tool and machine give" : "the tool bends", f.value,
        f.limit, sample.load.bend_on_wall_mm);
    findings.add(std::move(f));
  }
};

}  // namespace

constinit const run::Check kinds::over_bend{.kind = FindingKind::over_bend,
                                            .level = Severity::warning,
                                            .meaning = "the tool bends more than its limit",
                                            .help = "Shorter or thicker tool, lighter cut.",
                                            .for_tool = run::start<OverBend>};

}  // namespace proveout::checks
