// Power at the spindle nose, against what the spindle has at the speed in force. The level goes by
// the evidence: an error where even the low end of the material's band is over, a warning where the
// likely value is; where only the high end is, the figures' band says so.
#include <fmt/format.h>

#include <algorithm>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class OverPower : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    if (!sample.turning()) return;
    const job::Spindle& sp = use_.context.job.machine.spindle;
    const double rated = sp.rated_rpm > 0 ? sp.rated_rpm : sp.max_rpm;
    const double rpm = sample.state.spindle_rpm;
    const double there =
        sp.power_w * sp.efficiency * (rated > 0 ? std::min(1.0, rpm / rated) : 1.0);
    const cutting::Band& power = sample.load.power_w;
    if (!(there > 0) || !(power.likely > there)) return;
    const bool sure = power.low > there;
    Finding f =
        finding(sample, FindingKind::over_power, sure ? Severity::error : Severity::warning);
    f.value = power.likely;
    f.limit = there;
    f.unit = "W";
    if (power.low < power.high) {
      f.text = fmt::format(
          "needs about {:.0f} W at the spindle nose ({:.0f} to {:.0f} by what is known of {}), "
          "{:.0f} "
          "are there at this speed",
          power.likely, power.low, power.high, use_.context.material.name, there);
    } else {
      f.text = fmt::format("needs {:.0f} W at the spindle nose, {:.0f} are there at this speed",
                           power.likely, there);
    }
    findings.add(std::move(f));
  }
};

std::vector<run::NotChecked> lacks_power(const run::JobContext& context) {
  if (context.job.machine.spindle.power_w > 0) return {};
  return {lacking("the spindle's power is not given")};
}

}  // namespace

constinit const run::Check kinds::over_power{
    .kind = FindingKind::over_power,
    .level = Severity::error,
    .meaning = "the cut needs more power than the spindle has at this speed",
    .help = "Reduce depth, width or feed.",
    .needs = "the spindle's power",
    .for_tool = run::start<OverPower>,
    .lacks = run::Lack::machine,
    .not_checked = lacks_power};

}  // namespace proveout::checks
