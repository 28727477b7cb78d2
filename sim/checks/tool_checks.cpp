#include "sim/checks/tool_checks.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <map>

#include "parser/job/find_tool.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/registry.h"
#include "sim/cutting/volume_runs.h"

namespace proveout::checks {
namespace {

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

// What each sample's loads are, worked out many motions at a time on all threads; what is made of
// them goes in the program's order.
class Follower {
 public:
  Follower(const run::SetupContext& context, const run::SetupCut& setup, FindingCollector& findings)
      : context_(context), setup_(setup), findings_(findings) {
    loads_.peaks.assign(setup.source->motions.size(), {});
    loads_.energy_j.assign(setup.source->motions.size(), 0);
    loads_.rate_scale.assign(setup.cut.samples.size(), 1);
  }

  run::MotionLoads follow() {
    list_cuts();
    tbb::parallel_for(std::size_t{0}, cuts_.size(), [&](std::size_t c) { take_volume(cuts_[c]); });
    for (const Cutting& cut : cuts_) scale_rates(cut);
    if (last_ != nullptr) last_->runs().end(loads_.rate_scale);
    for (std::size_t from = 0; from < cuts_.size(); from += at_once) {
      const std::size_t to = std::min(cuts_.size(), from + at_once);
      told_.resize(to - from);
      tbb::parallel_for(from, to, [&](std::size_t c) { load(cuts_[c], told_[c - from]); });
      for (std::size_t c = from; c < to; ++c) see(cuts_[c], told_[c - from]);
    }
    for (auto& [number, tool] : tools_) tool.finish(findings_);
    return std::move(loads_);
  }

 private:
  static constexpr std::size_t at_once = 4096;  // motions whose samples' loads are held

  // A motion that meets material.
  struct Cutting {
    std::size_t motion = 0;
    FollowedTool* tool = nullptr;
    bool rapid = false;
    bool after_air = false;  // some motion before it met nothing, or its tool is unknown
  };
  struct Told {
    double speed = 0;  // mm/min
    cutting::CutLoad load;
  };

  FollowedTool* followed(int number) {
    if (const auto at = tools_.find(number); at != tools_.end()) return &at->second;
    const job::Tool* tool = job::find_tool(context_.job.tools, number);
    if (tool == nullptr) return nullptr;
    return &tools_.try_emplace(number, context_, setup_, *tool).first->second;
  }

  void list_cuts() {
    bool air = false;
    for (std::size_t i = 0; i < setup_.source->motions.size(); ++i) {
      const nc::Motion& m = setup_.source->motions[i];
      FollowedTool* tool = setup_.cut.motions[i].sample_count > 0
                               ? followed(setup_.source->states[m.state].tool)
                               : nullptr;
      if (tool != nullptr) cuts_.push_back({i, tool, m.kind == nc::PathKind::rapid, air});
      air = tool == nullptr;
    }
    of_area_.resize(setup_.cut.samples.size());
  }

  template <class Each>
  void for_samples(const Cutting& cut, Each each) const {
    const stock::MotionOutcome& outcome = setup_.cut.motions[cut.motion];
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const std::size_t number = outcome.first_sample + k;
      each(number, setup_.cut.samples[number]);
    }
  }

  // What each area would take over its stretch, mm3.
  void take_volume(const Cutting& cut) {
    if (cut.rapid) return;
    const nc::Motion& m = setup_.source->motions[cut.motion];
    const cutting::LoadModel& model = cut.tool->model();
    for_samples(cut, [&](std::size_t number, const stock::EngagementSample& s) {
      const cutting::EngagedArea area = cutting::area_of(s, setup_.cut.extents, model.profile());
      of_area_[number] = model.volume_per_mm(area, cutting::descent_of(m, s.along)) * s.length;
    });
  }

  // How much of that was really taken. A run ends in air, at a rapid and with its tool.
  void scale_rates(const Cutting& cut) {
    FollowedTool* tool = cut.rapid ? nullptr : cut.tool;
    if (last_ != nullptr && (cut.after_air || tool != last_)) last_->runs().end(loads_.rate_scale);
    last_ = tool;
    if (tool == nullptr) return;
    for_samples(cut, [&](std::size_t number, const stock::EngagementSample& s) {
      tool->runs().add(number, s.length, of_area_[number], s.removed_mm3, loads_.rate_scale);
    });
  }

  // The loads of a motion's samples, its energy and its peak.
  void load(const Cutting& cut, std::vector<Told>& told) {
    const nc::Motion& m = setup_.source->motions[cut.motion];
    const nc::ModalState& state = setup_.source->states[m.state];
    const timing::TimedMotion& timed = setup_.plan.motions[cut.motion];
    const cutting::LoadModel& model = cut.tool->model();
    const double length = nc::length(m);
    const bool clockwise = state.turn != nc::SpindleTurn::counter_clockwise;
    const bool turning = state.turn != nc::SpindleTurn::stopped;
    run::MotionPeak& peak = loads_.peaks[cut.motion];
    told.clear();
    for_samples(cut, [&](std::size_t number, const stock::EngagementSample& s) {
      Told& t = told.emplace_back();
      // A rapid is not meant to cut: it has no load that could be judged, rapid-contact says it
      // all.
      if (!cut.rapid) {
        t.speed = 60 * timing::speed_at(timed, length, s.along);
        const cutting::EngagedArea area = cutting::area_of(s, setup_.cut.extents, model.profile());
        const cutting::CutMotion way{t.speed, turning ? state.spindle_rpm : 0, clockwise,
                                     cutting::descent_of(m, s.along)};
        t.load = model.at(area, way, loads_.rate_scale[number]);
        loads_.energy_j[cut.motion] +=
            static_cast<float>(model.energy_j(t.load, s.removed_mm3, s.length, t.speed));
        peak.sense |= cutting::sense_of(area, way.clockwise, way.descent);
      }
      raise(peak, s, t.load);
    });
  }

  void see(const Cutting& cut, const std::vector<Told>& told) {
    if (cut.rapid) return;
    const nc::Motion& m = setup_.source->motions[cut.motion];
    const nc::ModalState& state = setup_.source->states[m.state];
    std::size_t k = 0;
    for_samples(cut, [&](std::size_t, const stock::EngagementSample& s) {
      const Told& t = told[k++];
      const double seconds = t.speed > 0 ? s.length / t.speed * 60 : 0;
      const cutting::EngagedArea area =
          cutting::area_of(s, setup_.cut.extents, cut.tool->model().profile());
      const run::CutSample sample{cut.motion, m, state, s, area, t.load, t.speed, seconds};
      if (!area.empty() && sample.depth() >= least_depth) cut.tool->see(sample, findings_);
    });
  }

  const run::SetupContext& context_;
  const run::SetupCut& setup_;
  FindingCollector& findings_;
  run::MotionLoads loads_;
  std::map<int, FollowedTool> tools_;
  std::vector<Cutting> cuts_;
  std::vector<double> of_area_;          // mm3, of each sample
  std::vector<std::vector<Told>> told_;  // of the motions at hand, a sample each
  FollowedTool* last_ = nullptr;         // whose run of like stretches goes on
};

}  // namespace

run::MotionLoads follow_tools(const run::SetupContext& context, const run::SetupCut& setup,
                              FindingCollector& findings) {
  return Follower(context, setup, findings).follow();
}

}  // namespace proveout::checks
