// Whether a cut is likely to sing: a factor of the machine, learned from the cuts heard at it, on
// the least limit depth of the bare model (sim/cutting/known_cuts.h). Rough: a note, once a tool,
// and only where it is likely.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/cutting/known_cuts.h"

namespace proveout::checks {
namespace {

// Probability above which it is said: with cuts heard at the machine, and without any (chosen).
constexpr double likely_known = 0.8, likely_bare = 0.9;

class Chatter : public run::ToolCheck {
 public:
  explicit Chatter(const run::ToolInSetup& use)
      : ToolCheck(use), known_(use.context.job, use.tool, use.context.material) {}

  void see(const run::CutSample& sample, FindingCollector&) override {
    const stock::EngagementSample& s = sample.engagement;
    // A plunge has no feed direction, and a graze no depth to speak of.
    if (!sample.turning() || s.arc > 180.5f || !job::mills(use_.tool) ||
        s.axial_depth < 0.1 * use_.tool.diameter || !(s.arc_to > s.arc_from))
      return;
    cutting::AskedCut cut{sample.state.spindle_rpm,
                          cutting::mean_depth(sample.area, use_.model.profile()),
                          s.radial_width,
                          s.arc_from,
                          s.arc_to,
                          sample.state.turn != nc::SpindleTurn::counter_clockwise};
    const double least = use_.model.least_limit_depth_mm(cut.arc_from, cut.arc_to, cut.clockwise);
    if (!(least > 0) || least >= cutting::ZeroOrder::no_limit ||
        !(cut.depth > worst_.beyond * least))
      return;
    if (known_.known_quiet(cut)) return;
    worst_ = {cut.depth / least, least, sample.motion, s.along, cut};
  }

  void finish(FindingCollector& findings) override {
    if (!(worst_.least > 0)) return;
    const double p = known_.sings(worst_.cut, worst_.least);
    if (!(p > (known_.count() > 0 ? likely_known : likely_bare))) return;
    const cutting::Band limit = known_.limit_depth(worst_.least);
    Finding f = finding(worst_.motion, worst_.along, FindingKind::chatter, Severity::note);
    f.value = worst_.cut.depth;
    f.limit = limit.likely;
    f.unit = "mm";
    f.text = fmt::format(
        "likely to sing: {:.2f} mm deep at S{:.0f}, where the limit lies at {:.2g} to {:.2g} mm (8 "
        "in 10), {}",
        f.value, worst_.cut.rpm, limit.low, limit.high,
        known_.count() > 0
            ? "from the known cuts " + known_.listed()
            : std::string("by a rough model, as no known cut of the machine is given"));
    f.text += by_the_pitch();
    findings.add(std::move(f));
  }

 private:
  // Speeds at which teeth pass in step with the pitch heard; without one none can be told.
  std::string by_the_pitch() const {
    const double pitch = known_.tool_pitch_hz();
    if (!(pitch > 0)) return {};
    const job::Spindle& sp = use_.context.job.machine.spindle;
    const double rpm = worst_.cut.rpm;
    const double fastest = sp.max_rpm > 0 ? sp.max_rpm : 1.5 * rpm;
    const double slowest = sp.min_rpm > 0 ? sp.min_rpm : 0.5 * rpm;
    double best = 0;
    for (int waves = 1; waves <= 40; ++waves) {
      const double at = 60 * pitch / (use_.tool.flutes * waves);
      if (at > fastest || at < slowest) continue;
      if (best == 0 || std::abs(at - rpm) < std::abs(best - rpm)) best = at;
    }
    if (best == 0) return {};
    return fmt::format("; by the pitch heard, teeth pass in step with it at about S{:.0f}",
                       std::round(best / 50) * 50);
  }

  cutting::KnownCuts known_;
  struct Worst {  // the sample deepest beside its limit
    double beyond = 0, least = 0;
    std::size_t motion = 0;
    double along = 0;
    cutting::AskedCut cut;
  } worst_;
};

std::vector<run::NotChecked> not_heard(const run::JobContext& context) {
  if (!context.material.cuttable) return {};
  std::string why;
  if (context.job.machine.known_cuts.empty()) {
    why =
        "no known cut of this machine is given (machine.known_cuts: a cut, and whether it was "
        "quiet "
        "or sang): only what would sing on nearly any machine is said";
  } else {
    std::vector<std::string> unused;
    for (const job::Tool& t : context.job.tools) {
      const cutting::KnownCuts known(context.job, t, context.material);
      for (const std::string& u : known.unused()) {
        if (std::find(unused.begin(), unused.end(), u) == unused.end()) unused.push_back(u);
      }
    }
    for (const std::string& u : unused) why += (why.empty() ? "not used: " : "; ") + u;
  }
  if (why.empty()) return {};
  run::NotChecked n = lacking(why);
  n.in_part = true;
  return {n};
}

}  // namespace

constinit const run::Check kinds::chatter{
    .kind = FindingKind::chatter,
    .level = Severity::note,
    .meaning = "the cut is likely to sing, by what was heard of the machine's known cuts",
    .help =
        "Take less depth or a shorter tool, listen, and add what was heard to machine.known_cuts.",
    .for_tool = run::start<Chatter>,
    .lacks = run::Lack::machine,
    .not_checked = not_heard};

}  // namespace proveout::checks
