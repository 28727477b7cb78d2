#include "sim/checks/tool_checks.h"

#include <algorithm>
#include <map>

#include "sim/checks/cut_limits.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

const job::Tool* find_tool(const job::Job& job, int number) {
  const auto at = std::find_if(job.tools.begin(), job.tools.end(),
                               [&](const job::Tool& t) { return t.number == number; });
  return at == job.tools.end() ? nullptr : &*at;
}

// One tool with the checks that follow it.
class FollowedTool {
 public:
  FollowedTool(const run::SetupContext& context, const run::SetupCut& setup, const job::Tool& tool)
      : use_{context, setup, tool, tool.limits_for(context.material.name),
             cutting::LoadModel(tool, context.material)} {
    for (const run::Check* check : all_checks()) {
      if (check->for_tool != nullptr) checks_.push_back(check->for_tool(use_));
    }
    checks_.push_back(other_material(use_));
  }
  FollowedTool(const FollowedTool&) = delete;  // the checks hold on to use_
  FollowedTool& operator=(const FollowedTool&) = delete;

  const cutting::LoadModel& model() const { return use_.model; }
  void see(const run::CutSample& sample, FindingCollector& findings) {
    for (const auto& check : checks_) check->see(sample, findings);
  }
  void finish(FindingCollector& findings) {
    for (const auto& check : checks_) check->finish(findings);
  }

 private:
  run::ToolInSetup use_;
  std::vector<std::unique_ptr<run::ToolCheck>> checks_;
};

void raise(run::MotionPeak& peak, const stock::EngagementSample& s, const cutting::CutLoad& l) {
  const auto to = [](float& most, double v) { most = std::max(most, static_cast<float>(v)); };
  to(peak.axial_depth, s.axial_depth);
  to(peak.radial_width, s.radial_width);
  to(peak.engagement_deg, s.arc);
  to(peak.removal_mm3_min, l.removal_mm3_min);
  to(peak.chip_mm, l.chip_mm);
  to(peak.force_n, l.force_n);
  to(peak.power_w, l.power_w);
  to(peak.bend_mm, l.bend_mm);
}

class Follower {
 public:
  Follower(const run::SetupContext& context, const run::SetupCut& setup, FindingCollector& findings)
      : context_(context), setup_(setup), findings_(findings) {
    loads_.peaks.assign(setup.source->motions.size(), {});
    loads_.energy_j.assign(setup.source->motions.size(), 0);
  }

  run::MotionLoads follow() {
    for (std::size_t i = 0; i < setup_.source->motions.size(); ++i) follow(i);
    for (auto& [number, tool] : tools_) tool.finish(findings_);
    return std::move(loads_);
  }

 private:
  FollowedTool* followed(int number) {
    if (const auto at = tools_.find(number); at != tools_.end()) return &at->second;
    const job::Tool* tool = find_tool(context_.job, number);
    if (tool == nullptr) return nullptr;
    return &tools_.try_emplace(number, context_, setup_, *tool).first->second;
  }

  void follow(std::size_t motion) {
    const nc::Motion& m = setup_.source->motions[motion];
    const stock::MotionOutcome& outcome = setup_.cut.motions[motion];
    if (outcome.sample_count == 0) return;
    const nc::ModalState& state = setup_.source->states[m.state];
    FollowedTool* tool = followed(state.tool);
    if (tool == nullptr) return;
    const timing::TimedMotion& timed = setup_.plan.motions[motion];
    const double length = nc::length(m);
    const bool clockwise = state.turn != nc::SpindleTurn::counter_clockwise;
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const stock::EngagementSample& s = setup_.cut.samples[outcome.first_sample + k];
      const double speed = 60 * timing::speed_at(timed, length, s.along);
      const cutting::CutLoad load = tool->model().at(s, speed, state.spindle_rpm, clockwise);
      raise(loads_.peaks[motion], s, load);
      if (speed > 0)
        loads_.energy_j[motion] += static_cast<float>(load.power_w * s.length / speed * 60);
      if (m.kind == nc::PathKind::rapid) continue;  // rapid-contact says it all
      if (s.axial_depth < least_depth) continue;
      const double seconds = speed > 0 ? s.length / speed * 60 : 0;
      tool->see({motion, m, state, s, load, speed, seconds}, findings_);
    }
  }

  const run::SetupContext& context_;
  const run::SetupCut& setup_;
  FindingCollector& findings_;
  run::MotionLoads loads_;
  std::map<int, FollowedTool> tools_;
};

}  // namespace

run::MotionLoads follow_tools(const run::SetupContext& context, const run::SetupCut& setup,
                              FindingCollector& findings) {
  return Follower(context, setup, findings).follow();
}

}  // namespace proveout::checks
