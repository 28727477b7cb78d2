#include "report/page/build/stability.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>

#include "sim/cutting/load.h"

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;

// The cut of one tool in one setup that comes nearest to its limit, by the rule of the check for
// chatter (sim/checks): what the chart shows is what a finding says.
struct Use {
  double depth = 0, limit = 0;  // mm
  double rpm = 0, arc_from = 0, arc_to = 0;
  bool clockwise = true;
  std::uint32_t line = 0;
  bool nearer_than(const Use& other) const { return depth * other.limit > other.depth * limit; }
};

std::optional<Use> worst_use(const run::SetupResult& setup, const job::Tool& tool,
                             const cutting::LoadModel& model) {
  std::optional<Use> worst;
  if (tool.shape == job::ToolShape::drill) return worst;
  for (std::size_t m = 0; m < setup.cut.motions.size(); ++m) {
    const nc::Motion& motion = setup.source->motions[m];
    const nc::ModalState& state = setup.source->states[motion.state];
    if (state.tool != tool.number || state.turn == nc::SpindleTurn::stopped ||
        !(state.spindle_rpm > 0) || motion.kind == nc::PathKind::rapid)
      continue;
    const stock::MotionOutcome& outcome = setup.cut.motions[m];
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const stock::EngagementSample& sample = setup.cut.samples[outcome.first_sample + k];
      if (sample.arc > 180.5f || !(sample.axial_depth >= 0.1 * tool.diameter)) continue;
      const bool clockwise = state.turn != nc::SpindleTurn::counter_clockwise;
      const double limit =
          model.limit_depth_mm(state.spindle_rpm, sample.arc_from, sample.arc_to, clockwise);
      const Use use{sample.axial_depth, limit,     state.spindle_rpm, sample.arc_from,
                    sample.arc_to,      clockwise, motion.line};
      if (std::isfinite(use.limit) && (!worst || use.nearer_than(*worst))) worst = use;
    }
  }
  return worst;
}

Json chart(const std::string& title, const cutting::LoadModel& model, const Use& use,
           const job::Spindle& spindle) {
  const double from = spindle.min_rpm > 0 ? std::min(spindle.min_rpm, use.rpm) : use.rpm / 2;
  const double to = spindle.max_rpm > 0 ? std::max(spindle.max_rpm, use.rpm) : use.rpm * 1.5;
  // Lobes far above what is used would flatten the picture.
  const double most = 6 * std::max(use.depth, use.limit);
  std::map<double, double> limits{{use.rpm, use.limit}};
  constexpr int points = 240;
  for (int k = 0; k <= points; ++k) {
    const double rpm = from + (to - from) * k / points;
    const double limit = model.limit_depth_mm(rpm, use.arc_from, use.arc_to, use.clockwise);
    if (std::isfinite(limit)) limits.emplace(rpm, std::min(limit, most));
  }
  Json speeds = Json::array(), depths = Json::array();
  for (const auto& [rpm, limit] : limits) {
    speeds.push_back(rpm);
    depths.push_back(limit);
  }
  return {{"title", title},
          {"line", use.line},
          {"rpm", speeds},
          {"limit_depth", depths},
          {"used", Json::array({Json::array({use.rpm, use.depth})})},
          {"note",
           fmt::format("The cut that comes nearest to its limit: line {}, {:.2f} mm deep at "
                       "S{:.0f}, arc in material {:.0f} to {:.0f} degrees, limit {:.2f} mm. "
                       "Stiffness and damping worked out for the tool alone, not measured "
                       "on the machine. The line is cut off at {:.2g} mm.",
                       use.line, use.depth, use.rpm, use.arc_from, use.arc_to, use.limit, most)}};
}

}  // namespace

Json stability_charts(const run::JobResult& result) {
  Json charts = Json::array();
  const auto material = cutting::find_material(result.material, result.job.materials);
  if (!material || !material->cuttable) return charts;
  // Where lobes lie along the speeds is anybody's guess until a pitch has been measured: no picture
  // that reads like advice without one.
  const auto& known = result.job.machine.known_cuts;
  const bool pitch = std::any_of(known.begin(), known.end(),
                                 [](const job::KnownCut& k) { return k.sings && k.pitch_hz > 0; });
  if (!pitch) return charts;
  for (std::size_t s = 0; s < result.setups.size(); ++s) {
    const run::SetupResult& setup = result.setups[s];
    for (const run::ToolResult& used : setup.tools) {
      const auto tool = std::find_if(result.job.tools.begin(), result.job.tools.end(),
                                     [&](const job::Tool& t) { return t.number == used.number; });
      if (tool == result.job.tools.end()) continue;
      const cutting::LoadModel model(*tool, *material);
      const auto use = worst_use(setup, *tool, model);
      if (!use) continue;
      charts.push_back(chart(fmt::format("Setup {}, T{} {}", setup.name, tool->number, tool->name),
                             model, *use, result.job.machine.spindle));
      charts.back()["setup"] = s;
      charts.back()["tool"] = tool->number;
    }
  }
  return charts;
}

}  // namespace proveout::page
