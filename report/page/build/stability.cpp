#include "report/page/build/stability.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>

#include "parser/job/tool_shape.h"
#include "sim/cutting/known_cuts.h"

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;

// The cut of one tool in one setup that comes nearest to its limit, by the rule of the check for
// chatter (sim/checks/chatter.cpp): a test holds both to the same figures.
struct Use {
  cutting::AskedCut cut;
  double least = 0;  // mm, the bare model's limit for the arc of that cut
  std::uint32_t line = 0;
};

struct Asked {
  const job::Tool& tool;
  cutting::LoadModel model;
  cutting::KnownCuts known;
};

// Nothing for a plunge, which has no feed direction, for a graze, and for what was heard quiet.
std::optional<Use> use_of(const Asked& asked, const nc::ModalState& state,
                          const stock::EngagementSample& s,
                          std::span<const stock::ColumnExtent> extents) {
  if (s.arc > 180.5f || s.axial_depth < 0.1 * asked.tool.diameter || !(s.arc_to > s.arc_from))
    return std::nullopt;
  const cutting::EngagedArea area = cutting::area_of(s, extents, asked.model.profile());
  Use use;
  use.cut = {state.spindle_rpm, cutting::mean_depth(area, asked.model.profile()),
             s.radial_width,    s.arc_from,
             s.arc_to,          state.turn != nc::SpindleTurn::counter_clockwise};
  use.least = asked.model.least_limit_depth_mm(use.cut.arc_from, use.cut.arc_to, use.cut.clockwise);
  if (!(use.least > 0) || use.least >= cutting::ZeroOrder::no_limit) return std::nullopt;
  return use;
}

std::optional<Use> worst_use(const run::SetupResult& setup, const Asked& asked) {
  std::optional<Use> worst;
  for (std::size_t m = 0; m < setup.cut.motions.size(); ++m) {
    const nc::Motion& motion = setup.source->motions[m];
    const nc::ModalState& state = setup.source->states[motion.state];
    if (state.tool != asked.tool.number || state.turn == nc::SpindleTurn::stopped ||
        motion.kind == nc::PathKind::rapid)
      continue;
    const stock::MotionOutcome& outcome = setup.cut.motions[m];
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      std::optional<Use> use =
          use_of(asked, state, setup.cut.samples[outcome.first_sample + k], setup.cut.extents);
      if (!use || (worst && !(use->cut.depth * worst->least > worst->cut.depth * use->least)) ||
          asked.known.known_quiet(use->cut))
        continue;
      use->line = motion.line;
      worst = use;
    }
  }
  return worst;
}

// Speeds of the spindle at which teeth pass in step with the pitch heard, the fastest first: the
// pitch is a whole number of tooth passings a wave further.
Json in_step(double pitch_hz, int teeth, double slowest, double fastest) {
  Json speeds = Json::array();
  for (int waves = 1; pitch_hz > 0 && waves <= 12; ++waves) {
    const double rpm = 60 * pitch_hz / (teeth * waves);
    if (rpm >= slowest && rpm <= fastest) speeds.push_back(rpm);
  }
  return speeds;
}

Json chart(const Asked& asked, const Use& use, const job::Spindle& spindle) {
  const double rpm = use.cut.rpm;
  const double slowest = spindle.min_rpm > 0 ? std::min(spindle.min_rpm, rpm) : rpm / 2;
  const double fastest = spindle.max_rpm > 0 ? std::max(spindle.max_rpm, rpm) : rpm * 1.5;
  const cutting::Band limit = asked.known.limit_depth(use.least);
  const std::string note = fmt::format(
      "The cut that comes nearest to its limit: {:.2f} mm deep at S{:.0f}, arc in "
      "material {:.0f} to {:.0f} degrees. Its limit lies at {:.2g} to {:.2g} mm (8 in 10), from "
      "the known "
      "cuts {}; how it changes with speed is not known.",
      use.cut.depth, rpm, use.cut.arc_from, use.cut.arc_to, limit.low, limit.high,
      asked.known.listed());
  return {{"line", use.line},
          {"rpm", rpm},
          {"depth", use.cut.depth},
          {"limit", {{"low", limit.low}, {"likely", limit.likely}, {"high", limit.high}}},
          {"slowest", slowest},
          {"fastest", fastest},
          {"in_step", in_step(asked.known.tool_pitch_hz(), asked.tool.flutes, slowest, fastest)},
          {"note", note}};
}

}  // namespace

Json stability_charts(const run::JobResult& result) {
  Json charts = Json::array();
  const job::Job& job = result.job;
  const auto material = cutting::find_material(result.material, job.materials);
  if (!material || !material->cuttable) return charts;
  for (std::size_t s = 0; s < result.setups.size(); ++s) {
    for (const run::ToolResult& used : result.setups[s].tools) {
      const auto tool = std::find_if(job.tools.begin(), job.tools.end(),
                                     [&](const job::Tool& t) { return t.number == used.number; });
      if (tool == job.tools.end() || !job::mills(*tool)) continue;
      const Asked asked{*tool,
                        cutting::LoadModel(*tool, *material, cutting::machine_give_of(job.machine)),
                        cutting::KnownCuts(job, *tool, *material)};
      if (asked.known.count() == 0) continue;
      const auto use = worst_use(result.setups[s], asked);
      if (!use) continue;
      Json of = {{"title",
                  fmt::format("Setup {}, T{} {}", result.setups[s].name, tool->number, tool->name)},
                 {"setup", s},
                 {"tool", tool->number}};
      of.update(chart(asked, *use, job.machine.spindle));
      charts.push_back(std::move(of));
    }
  }
  return charts;
}

}  // namespace proveout::page
