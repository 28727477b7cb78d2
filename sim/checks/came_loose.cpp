#include "sim/checks/came_loose.h"

#include <fmt/format.h>

#include "sim/checks/registry.h"
#include "sim/measure/measure.h"

namespace proveout::checks {
namespace {

constexpr std::size_t most_looked_up = 3;
constexpr double crumb_mm3 = 1.0;  // smaller pieces are dust between passes

}  // namespace

std::vector<double> check_pieces(const run::SetupCut& setup, stock::Stock& stock,
                                 const solid::PartDistance* part, const LooseningLookup& loosening,
                                 FindingCollector& findings) {
  std::vector<double> volumes;
  const std::vector<measure::Piece> pieces = measure::keep_one_piece(stock, part);
  std::size_t looked_up = 0;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    volumes.push_back(pieces[i].volume);
    if (i == 0 || pieces[i].volume < crumb_mm3) continue;
    Finding f;
    f.kind = FindingKind::came_loose;
    f.level = Severity::warning;
    f.setup = setup.name;
    f.file = setup.program;
    f.at = setup.stock_from_setup.inverse() * pieces[i].centre;
    f.value = pieces[i].volume;
    f.unit = "mm3";
    f.text = fmt::format("a piece of {:.0f} mm3 is free of the work after this setup", f.value);
    // Each look-up replays the setup once; the largest pieces are the ones that fly.
    const auto when =
        looked_up++ < most_looked_up ? loosening(pieces[0].inside, pieces[i].inside) : std::nullopt;
    if (when) {
      const nc::Motion& m = setup.source->motions[when->motion];
      double later = 0;
      for (std::size_t k = when->motion + 1; k < setup.plan.motions.size(); ++k) {
        if (setup.cut.motions[k].removed_mm3 > 0) later += setup.plan.motions[k].time_s;
      }
      f.line = m.line;
      f.tool = setup.source->states[m.state].tool;
      f.text = fmt::format(
          "a piece of {:.0f} mm3 comes free of the work here; {:.0f} s of cutting follow in this "
          "setup",
          f.value, later);
    }
    findings.add(std::move(f));
  }
  return volumes;
}

constinit const run::Check kinds::came_loose{
    .kind = FindingKind::came_loose,
    .level = Severity::warning,
    .meaning = "a piece comes free of the work before the program ends",
    .help = "Keep it tied with supports, or end the cut there."};

}  // namespace proveout::checks
