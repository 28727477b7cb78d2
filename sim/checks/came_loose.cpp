#include "sim/checks/came_loose.h"

#include <fmt/format.h>

#include "sim/checks/registry.h"
#include "sim/measure/measure.h"

namespace proveout::checks {
namespace {

constexpr std::size_t most_looked_up = 3;
constexpr double crumb_mm3 = 1.0;  // smaller pieces are dust between passes

// Whether a piece lies all round another, seen along some axis: the frame a part was cut out of.
bool surrounds(const Box3& frame, const Box3& part) {
  int axes = 0;
  for (int a = 0; a < 3; ++a)
    axes += frame.min()[a] < part.min()[a] && frame.max()[a] > part.max()[a] ? 1 : 0;
  return axes >= 2;
}

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
    // What is clamped is the frame: then it is the part that flies.
    const bool of_part = pieces[0].shared > 0 && surrounds(pieces[i].box, pieces[0].box);
    if (of_part) f.value = pieces[0].volume;
    const std::string what = of_part ? "the part" : fmt::format("a piece of {:.0f} mm3", f.value);
    f.text = what + (of_part ? " is free of its frame after this setup"
                             : " is free of the work after this setup");
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
      if (of_part && later > 0) f.level = Severity::error;
      f.text = fmt::format("{} comes free of {} here; {:.0f} s of cutting follow in this setup",
                           what, of_part ? "its frame" : "the work", later);
    }
    findings.add(std::move(f));
  }
  return volumes;
}

constinit const run::Check kinds::came_loose{
    .kind = FindingKind::came_loose,
    .level = Severity::error,
    .meaning =
        "a piece comes free of the work before the program ends; an error where it is the part "
        "and cutting goes on",
    .help = "Keep it tied with supports, or end the cut there."};

}  // namespace proveout::checks
