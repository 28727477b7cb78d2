// Right-hand cutters cut while turning clockwise (common practice, no source); the job file has no
// left-hand ones. A tap backs out of its hole turning the other way: taps stand in as drills.
#include <fmt/format.h>

#include "parser/job/tool_shape.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class SpindleReversed : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector& findings) override {
    if (said_ || sample.state.turn != nc::SpindleTurn::counter_clockwise) return;
    const bool upwards = sample.path.end.z() > sample.path.start.z();
    if (!job::mills(use_.tool) && upwards) return;
    said_ = true;
    Finding f = finding(sample, FindingKind::spindle_reversed, Severity::warning);
    f.value = sample.depth();
    f.unit = "mm";
    f.text = fmt::format(
        "cuts {:.2f} mm deep while the spindle turns counter-clockwise (M4): right-hand cutters "
        "need M3, and a job cannot declare a left-hand one",
        sample.depth());
    findings.add(std::move(f));
  }

 private:
  bool said_ = false;  // once a tool
};

}  // namespace

constinit const run::Check kinds::spindle_reversed{
    .kind = FindingKind::spindle_reversed,
    .level = Severity::warning,
    .meaning = "the tool cuts while the spindle turns counter-clockwise (M4)",
    .help =
        "Use M3: cutters are taken to be right-hand ones (common practice, no source); a job "
        "cannot declare a left-hand one.",
    .for_tool = run::start<SpindleReversed>};

}  // namespace proveout::checks
