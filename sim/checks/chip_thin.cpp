// A tool much of whose time in cut runs at a feed per tooth too small to cut.
#include <fmt/format.h>

#include <limits>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

// Of the least chip: below it most of the time, a feed is hardly meant so (inches read as mm are a
// 25th; chosen between that and the slowest feeds people use).
constexpr double far_share = 0.125;

class ChipThin : public run::ToolCheck {
 public:
  explicit ChipThin(const run::ToolInSetup& use)
      : ToolCheck(use),
        limit_(thin_share * use.context.material.chip_per_mm_diameter.first * use.tool.diameter) {}

  void see(const run::CutSample& sample, FindingCollector&) override {
    const double chip = sample.load.feed_per_tooth_mm;
    // Straight down a mill goes slower on purpose (plunge.cpp).
    if (!(chip > 0) || sample.downward() >= straight_down) return;
    in_cut_s_ += sample.seconds;
    if (!(chip < limit_)) return;
    thin_s_ += sample.seconds;
    if (chip * thin_share < far_share * limit_) {
      if (far_s_ == 0) far_motion_ = sample.motion;
      far_s_ += sample.seconds;
    }
    if (chip < thinnest_) {
      thinnest_ = chip;
      motion_ = sample.motion;
    }
  }

  void finish(FindingCollector& findings) override {
    if (!job::mills(use_.tool)) return;
    if (in_cut_s_ <= 0 || thin_s_ < 0.2 * in_cut_s_) return;
    if (far_s_ > 0.5 * in_cut_s_) {
      Finding f = finding(far_motion_, 0, FindingKind::chip_thin, Severity::warning);
      f.value = thinnest_;
      f.limit = far_share * limit_ / thin_share;
      f.unit = "mm";
      f.text = fmt::format(
          "{:.0f} % of the time in cut runs below {:.4f} mm a tooth, an eighth of the least for "
          "this "
          "diameter in {} (assumed): is the feed meant in another unit?",
          100 * far_s_ / in_cut_s_, f.limit, use_.context.material.name);
      findings.add(std::move(f));
      return;
    }
    Finding f = finding(motion_, 0, FindingKind::chip_thin, Severity::note);
    f.value = thinnest_;
    f.limit = limit_;
    f.unit = "mm";
    f.text = fmt::format(
        "{:.0f} % of the time in cut runs below {:.4f} mm a tooth: the edge may rub (assumed)",
        100 * thin_s_ / in_cut_s_, f.limit);
    findings.add(std::move(f));
  }

 private:
  double limit_;  // mm a tooth
  double in_cut_s_ = 0, thin_s_ = 0, far_s_ = 0;
  std::size_t far_motion_ = 0;
  double thinnest_ = std::numeric_limits<double>::infinity();
  std::size_t motion_ = 0;  // where it is thinnest
};

}  // namespace

constinit const run::Check kinds::chip_thin{
    .kind = FindingKind::chip_thin,
    .level = Severity::warning,
    .meaning = "the chip is too thin to cut: the edge rubs",
    .help = "Raise the feed or lower the speed; check what feed the machine really reaches.",
    .for_tool = run::start<ChipThin>};

}  // namespace proveout::checks
