// The axial depth, against the stable limit at the spindle's speed; the furthest beyond, once a
// tool.
#include <fmt/format.h>

#include "parser/job/tool_shape.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

class Chatter : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector&) override {
    const stock::EngagementSample& s = sample.engagement;
    // A plunge has no feed direction, and a graze no depth to speak of.
    if (!sample.turning() || s.arc > 180.5f || !job::mills(use_.tool) ||
        s.axial_depth < 0.1 * use_.tool.diameter)
      return;
    const bool clockwise = sample.state.turn != nc::SpindleTurn::counter_clockwise;
    const double limit =
        use_.model.limit_depth_mm(sample.state.spindle_rpm, s.arc_from, s.arc_to, clockwise);
    if (!(s.axial_depth > limit)) return;
    if (motions_ == 0 || worst_.motion != sample.motion) ++motions_;
    const double beyond = s.axial_depth / limit;
    if (beyond > worst_.beyond) {
      worst_ = {beyond,     s.axial_depth, limit,
                s.arc_from, s.arc_to,      sample.state.spindle_rpm,
                s.along,    clockwise,     sample.motion};
    }
  }

  void finish(FindingCollector& findings) override {
    if (motions_ == 0) return;
    const Worst& w = worst_;
    const job::Spindle& sp = use_.context.job.machine.spindle;
    const double slowest = sp.min_rpm > 0 ? sp.min_rpm : 0.5 * w.rpm;
    const double fastest = sp.max_rpm > 0 ? sp.max_rpm : 1.5 * w.rpm;
    const double calm = use_.model.nearest_calm_rpm(w.rpm, 1.05 * w.depth, w.arc_from, w.arc_to,
                                                    w.clockwise, slowest, fastest);
    const double best = use_.model.calmest_rpm(w.arc_from, w.arc_to, w.clockwise, slowest, fastest);
    Finding f = finding(w.motion, w.along, FindingKind::chatter, Severity::note);
    f.value = w.depth;
    f.limit = w.limit;
    f.unit = "mm";
    f.count = motions_;
    f.text = fmt::format(
        "{:.2f} mm deep, stable to about {:.2f} at S{:.0f} by a rough model; {}", w.depth, w.limit,
        w.rpm,
        calm > 0
            ? fmt::format("the nearest calm speed is about {:.0f}", calm)
            : fmt::format(
                  "no speed of this spindle is calm at that depth, S{:.0f} bears most, {:.2f} mm",
                  best, use_.model.limit_depth_mm(best, w.arc_from, w.arc_to, w.clockwise)));
    findings.add(std::move(f));
  }

 private:
  struct Worst {  // the sample furthest beyond its limit
    double beyond = 1, depth = 0, limit = 0, arc_from = 0, arc_to = 0, rpm = 0, along = 0;
    bool clockwise = true;
    std::size_t motion = 0;
  } worst_;
  std::uint64_t motions_ = 0;  // how many are beyond
};

}  // namespace

constinit const run::Check kinds::chatter{
    .kind = FindingKind::chatter,
    .level = Severity::note,
    .meaning = "the axial depth is beyond the stable limit at this speed, by a rough model",
    .help = "Try the calm speed named; measure or listen before trusting it.",
    .for_tool = run::start<Chatter>};

}  // namespace proveout::checks
