// Chips thicker than the material's rule for the tool's diameter.
#include <fmt/format.h>

#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class ChipThick : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    if (!sample.turning()) return;
    const cutting::Material& material = use_.context.material;
    const double thick = 1.25 * material.chip_per_mm_diameter.second * use_.tool.diameter;
    if (!(thick > 0) || !(sample.load.chip_mm > thick)) return;
    Finding f = finding(sample, FindingKind::chip_thick, Severity::warning);
    f.value = sample.load.chip_mm;
    f.limit = thick;
    f.unit = "mm";
    f.text = fmt::format("chips of {:.3f} mm, {:.3f} is the most in {} for this diameter (assumed)",
                         f.value, f.limit, material.name);
    findings.add(std::move(f));
  }
};

}  // namespace

constinit const run::Check kinds::chip_thick{
    .kind = FindingKind::chip_thick,
    .level = Severity::warning,
    .meaning = "the chip is thicker than the material's rule for this diameter",
    .help = "Lower the feed or the width, or raise the speed.",
    .for_tool = run::start<ChipThick>};

}  // namespace proveout::checks
