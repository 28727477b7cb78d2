#include "report/page/build/stability.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "sim/cutting/load.h"

namespace proveout::page {
namespace {

struct Use {                          // of one tool in one setup
  std::map<double, double> depth_at;  // 1/min to deepest axial depth, mm
  const stock::EngagementSample* deepest = nullptr;
  bool clockwise = true;
};

std::map<int, Use> uses(const run::SetupResult& setup) {
  std::map<int, Use> found;
  for (std::size_t m = 0; m < setup.cut.motions.size(); ++m) {
    const nc::Motion& motion = setup.source->motions[m];
    const nc::ModalState& state = setup.source->states[motion.state];
    const stock::MotionOutcome& outcome = setup.cut.motions[m];
    if (state.turn == nc::SpindleTurn::stopped || !(state.spindle_rpm > 0) ||
        motion.kind == nc::PathKind::rapid)
      continue;
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const stock::EngagementSample& sample = setup.cut.samples[outcome.first_sample + k];
      // A plunge cuts along the axis, where this model does not hold.
      if (sample.arc_to - sample.arc_from > 181 || !(sample.arc_to > sample.arc_from)) continue;
      Use& use = found[state.tool];
      double& depth = use.depth_at[state.spindle_rpm];
      depth = std::max<double>(depth, sample.axial_depth);
      if (use.deepest == nullptr || sample.axial_depth > use.deepest->axial_depth) {
        use.deepest = &sample;
        use.clockwise = state.turn == nc::SpindleTurn::clockwise;
      }
    }
  }
  return found;
}

StabilityChart chart(const cutting::LoadModel& model, const Use& use, const job::Spindle& spindle) {
  const double fastest = use.depth_at.rbegin()->first, slowest = use.depth_at.begin()->first;
  const double from = spindle.min_rpm > 0 ? std::min(spindle.min_rpm, slowest) : slowest / 2;
  const double to = spindle.max_rpm > 0 ? std::max(spindle.max_rpm, fastest) : fastest * 1.5;
  StabilityChart out;
  constexpr int points = 240;
  for (int k = 0; k <= points; ++k) {
    const double rpm = from + (to - from) * k / points;
    const double limit =
        model.limit_depth_mm(rpm, use.deepest->arc_from, use.deepest->arc_to, use.clockwise);
    if (!std::isfinite(limit)) continue;
    out.rpm.push_back(rpm);
    out.limit_depth.push_back(limit);
  }
  for (const auto& [rpm, depth] : use.depth_at) out.used.emplace_back(rpm, depth);
  // Lobes far above what is used would flatten the picture.
  const double most = 6 * use.deepest->axial_depth;
  for (double& limit : out.limit_depth) limit = std::min(limit, most);
  out.note = fmt::format(
      "Arc in material {:.0f} to {:.0f} degrees, as at the deepest cut; a stiffness and damping "
      "worked out "
      "for the tool alone, not measured on the machine: its level is known to a factor of ten. The "
      "line is cut off at {:.2g} mm.",
      use.deepest->arc_from, use.deepest->arc_to, most);
  return out;
}

}  // namespace

std::vector<StabilityChart> stability_charts(const run::JobResult& result) {
  std::vector<StabilityChart> charts;
  const auto material = cutting::find_material(result.material, result.job.materials);
  if (!material || !material->cuttable) return charts;
  // Where lobes lie along the speeds is anybody's guess until a pitch has been measured: no picture
  // that reads like advice without one.
  const auto& known = result.job.machine.known_cuts;
  const bool pitch = std::any_of(known.begin(), known.end(),
                                 [](const job::KnownCut& k) { return k.sings && k.pitch_hz > 0; });
  if (!pitch) return charts;
  for (const run::SetupResult& setup : result.setups) {
    for (const auto& [number, use] : uses(setup)) {
      const auto tool = std::find_if(result.job.tools.begin(), result.job.tools.end(),
                                     [n = number](const job::Tool& t) { return t.number == n; });
      if (tool == result.job.tools.end() || use.deepest == nullptr) continue;
      const cutting::LoadModel model(*tool, *material);
      StabilityChart made = chart(model, use, result.job.machine.spindle);
      made.title = fmt::format("Setup {}, T{} {}", setup.name, number, tool->name);
      if (made.rpm.size() > 1) charts.push_back(std::move(made));
    }
  }
  return charts;
}

}  // namespace proveout::page
