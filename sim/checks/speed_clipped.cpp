// Spindle speeds the machine's spindle does not have; once a tool.
#include <fmt/format.h>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class SpeedClipped : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    const double rpm = sample.state.spindle_rpm;
    const job::Spindle& sp = use_.context.job.machine.spindle;
    const bool slow = sp.min_rpm > 0 && rpm < sp.min_rpm;
    const bool fast = sp.max_rpm > 0 && rpm > sp.max_rpm;
    if (said_ || !(slow || fast) || !(rpm > 0)) return;
    said_ = true;
    Finding f = finding(sample, FindingKind::speed_clipped, Severity::warning);
    f.value = rpm;
    f.limit = slow ? sp.min_rpm : sp.max_rpm;
    f.unit = "1/min";
    f.text = fmt::format("S{:.0f} is {} the spindle's range, {:.0f} to {:.0f}", rpm,
                         slow ? "below" : "above", sp.min_rpm, sp.max_rpm);
    findings.add(std::move(f));
  }

 private:
  bool said_ = false;
};

std::vector<run::NotChecked> lacks_range(const run::JobContext& context) {
  if (context.job.machine.spindle.max_rpm > 0) return {};
  return {lacking("the spindle's range is not given")};
}

}  // namespace

constinit const run::Check kinds::speed_clipped{
    .kind = FindingKind::speed_clipped,
    .level = Severity::warning,
    .meaning = "the spindle speed asked for is outside the spindle's range",
    .help = "Correct S for this machine; chip load changes with it.",
    .needs = "the spindle's range",
    .for_tool = run::start<SpeedClipped>,
    .lacks = run::Lack::machine,
    .not_checked = lacks_range};

}  // namespace proveout::checks
