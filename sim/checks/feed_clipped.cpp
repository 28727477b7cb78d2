// Feeds that the axes cannot do.
#include <fmt/format.h>

#include "sim/checks/registry.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

// Times what the quickest axis does, from which on a feed is no wish for haste, but of another unit
// (choice); downwards one far above what z does is nothing rare.
constexpr double far_too_fast = 6;

void look(const run::SetupContext& context, const run::SetupCut& setup,
          FindingCollector& findings) {
  const double quickest = context.job.machine.max_feed.maxCoeff();
  for (std::size_t i = 0; i < setup.source->motions.size(); ++i) {
    const timing::TimedMotion& timed = setup.plan.motions[i];
    if (!timed.feed_clipped) continue;
    const nc::Motion& m = setup.source->motions[i];
    Finding f = run::motion_finding(setup, m, FindingKind::feed_clipped, Severity::note);
    f.value = m.feed;
    f.limit = 60.0 * timed.cruise_speed;
    f.unit = "mm/min";
    f.at = Vec3::Zero();  // one finding a tool is enough: it is about the feed, not the place
    f.text = fmt::format("feed {:.0f} mm/min asked for, the axes do {:.0f} here", f.value, f.limit);
    if (f.value > far_too_fast * quickest) {
      f.level = Severity::warning;
      f.text += ": is it meant in another unit?";
    }
    findings.add(std::move(f));
  }
}

}  // namespace

constinit const run::Check kinds::feed_clipped{
    .kind = FindingKind::feed_clipped,
    .level = Severity::warning,
    .meaning =
        "the feed asked for is more than the axes can do; a warning beyond 6 times the quickest "
        "axis",
    .help = "The control will run slower here: chip load and time differ from what was programmed.",
    .after_cut = look};

}  // namespace proveout::checks
