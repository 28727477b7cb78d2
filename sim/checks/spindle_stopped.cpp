// Material met while the spindle stands still or has no speed.
#include <fmt/format.h>

#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class SpindleStopped : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    if (sample.turning() && sample.state.spindle_rpm > 0) return;
    Finding f = finding(sample, FindingKind::spindle_stopped, Severity::error);
    f.value = sample.depth();
    f.unit = "mm";
    f.text = fmt::format("cuts {:.2f} mm deep while the spindle {}", sample.depth(),
                         sample.turning() ? "has no speed" : "stands still");
    findings.add(std::move(f));
  }
};

}  // namespace

constinit const run::Check kinds::spindle_stopped{
    .kind = FindingKind::spindle_stopped,
    .level = Severity::error,
    .meaning = "the tool meets material while the spindle stands still",
    .help = "Start the spindle before the first cut and after each stop.",
    .for_tool = run::start<SpindleStopped>};

}  // namespace proveout::checks
