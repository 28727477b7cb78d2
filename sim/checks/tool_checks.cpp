#include "sim/checks/tool_checks.h"

#include <algorithm>
#include <map>

#include "sim/checks/cut_limits.h"
#include "sim/checks/registry.h"
#include "sim/cutting/volume_runs.h"

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
             cutting::LoadModel(tool, context.material,
                                cutting::machine_give_of(context.job.machine))},
        runs_(tool.diameter / 2) {
    for (const run::Check* check : all_checks()) {
      if (check->for_tool != nullptr) checks_.push_back(check->for_tool(use_));
    }
    checks_.push_back(other_material(use_));
  }
  FollowedTool(const FollowedTool&) = delete;  // the checks hold on to use_
  FollowedTool& operator=(const FollowedTool&) = delete;

  const cutting::LoadModel& model() const { return use_.model; }
  cutting::VolumeRuns& runs() { return runs_; }
  void see(const run::CutSample& sample, FindingCollector& findings) {
    for (const auto& check : checks_) check->see(sample, findings);
  }
  void finish(FindingCollector& findings) {
    for (const auto& check : checks_) check->finish(findings);
  }

 private:
  run::ToolInSetup use_;
  cutting::VolumeRuns runs_;
  std::vector<std::unique_ptr<run::ToolCheck>> checks_;
};

void raise(run::MotionPeak& peak, const stock::EngagementSample& s, const cutting::CutLoad& l) {
  const auto to = [](float& most, double v) { most = std::max(most, static_cast<float>(v)); };
  to(peak.axial_depth, s.axial_depth);
  to(peak.radial_width, s.radial_width);
  to(peak.engagement_deg, s.arc);
  to(peak.removal_mm3_min, l.removal_mm3_min);
  to(peak.chip_mm, l.chip_mm);
  to(peak.force_n, l.force_n.likely);
  to(peak.force_low_n, l.force_n.low);
  to(peak.force_high_n, l.force_n.high);
  to(peak.power_w, l.power_w.likely);
  to(peak.power_low_w, l.power_w.low);
  to(peak.power_high_w, l.power_w.high);
  to(peak.bend_mm, l.bend_mm);
}

class Follower {
 public:
  Follower(const run::SetupContext& context, const run::SetupCut& setup, FindingCollector& findings)
      : context_(context), setup_(setup), findings_(findings) {
    loads_.peaks.assign(setup.source->motions.size(), {});
    loads_.energy_j.assign(setup.source->motions.size(), 0);
    loads_.rate_scale.assign(setup.cut.samples.size(), 1);
  }

  run::MotionLoads follow() {
    scale_rates();
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
    const bool turning = state.turn != nc::SpindleTurn::stopped;
    const bool rapid = m.kind == nc::PathKind::rapid;
    run::MotionPeak& peak = loads_.peaks[motion];
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const std::size_t number = outcome.first_sample + k;
      const stock::EngagementSample& s = setup_.cut.samples[number];
      const double speed = 60 * timing::speed_at(timed, length, s.along);
      const cutting::EngagedArea area =
          cutting::area_of(s, setup_.cut.extents, tool->model().profile());
      // A rapid is not meant to cut: it has no load that could be judged, rapid-contact says it
      // all.
      cutting::CutLoad load;
      if (!rapid) {
        const cutting::CutMotion way{speed, turning ? state.spindle_rpm : 0, clockwise,
                                     cutting::descent_of(m, s.along)};
        load = tool->model().at(area, way, loads_.rate_scale[number]);
        loads_.energy_j[motion] +=
            static_cast<float>(tool->model().energy_j(load, s.removed_mm3, s.length, speed));
        peak.sense |= cutting::sense_of(area, way.clockwise, way.descent);
      }
      raise(peak, s, load);
      if (rapid) continue;
      if (s.axial_depth < least_depth) continue;
      const double seconds = speed > 0 ? s.length / speed * 60 : 0;
      tool->see({motion, m, state, s, area, load, speed, seconds}, findings_);
    }
  }

  // First of all, how much of what each area would take was really taken.
  void scale_rates() {
    for (std::size_t i = 0; i < setup_.source->motions.size(); ++i) {
      const nc::Motion& m = setup_.source->motions[i];
      const stock::MotionOutcome& outcome = setup_.cut.motions[i];
      const bool cuts = outcome.sample_count > 0 && m.kind != nc::PathKind::rapid;
      FollowedTool* tool = cuts ? followed(setup_.source->states[m.state].tool) : nullptr;
      // A run ends in air, at a rapid and with its tool.
      if (last_ != nullptr && tool != last_) last_->runs().end(loads_.rate_scale);
      last_ = tool;
      if (tool == nullptr) continue;
      for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
        const std::size_t number = outcome.first_sample + k;
        const stock::EngagementSample& s = setup_.cut.samples[number];
        const cutting::EngagedArea area =
            cutting::area_of(s, setup_.cut.extents, tool->model().profile());
        const double of_area =
            tool->model().volume_per_mm(area, cutting::descent_of(m, s.along)) * s.length;
        tool->runs().add(number, s.length, of_area, s.removed_mm3, loads_.rate_scale);
      }
    }
    if (last_ != nullptr) last_->runs().end(loads_.rate_scale);
  }

  const run::SetupContext& context_;
  const run::SetupCut& setup_;
  FindingCollector& findings_;
  run::MotionLoads loads_;
  std::map<int, FollowedTool> tools_;
  FollowedTool* last_ = nullptr;  // whose run of like stretches goes on
};

}  // namespace

run::MotionLoads follow_tools(const run::SetupContext& context, const run::SetupCut& setup,
                              FindingCollector& findings) {
  return Follower(context, setup, findings).follow();
}

}  // namespace proveout::checks
