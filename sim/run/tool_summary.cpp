#include "sim/run/tool_summary.h"

#include <algorithm>
#include <map>

#include "parser/job/find_tool.h"
#include "sim/timing/limits.h"

namespace proveout::run {
namespace {

class Sums {
 public:
  Sums(std::vector<ToolResult>& tools, const job::Job& job) : tools_(tools), job_(job) {}

  ToolResult& of(int number) {
    const auto [place, is_new] = index_.try_emplace(number, tools_.size());
    if (is_new) {
      ToolResult t;
      t.number = number;
      if (const job::Tool* tool = job::find_tool(job_.tools, number)) {
        t.name = tool->name;
        t.stickout = tool->stickout;
      }
      tools_.push_back(std::move(t));
    }
    return tools_[place->second];
  }

 private:
  std::vector<ToolResult>& tools_;
  const job::Job& job_;
  std::map<int, std::size_t> index_;
};

void raise(MotionPeak& worst, const MotionPeak& p) {
  worst.axial_depth = std::max(worst.axial_depth, p.axial_depth);
  worst.radial_width = std::max(worst.radial_width, p.radial_width);
  worst.engagement_deg = std::max(worst.engagement_deg, p.engagement_deg);
  worst.removal_mm3_min = std::max(worst.removal_mm3_min, p.removal_mm3_min);
  worst.chip_mm = std::max(worst.chip_mm, p.chip_mm);
  worst.force_n = std::max(worst.force_n, p.force_n);
  worst.force_low_n = std::max(worst.force_low_n, p.force_low_n);
  worst.force_high_n = std::max(worst.force_high_n, p.force_high_n);
  worst.power_w = std::max(worst.power_w, p.power_w);
  worst.power_low_w = std::max(worst.power_low_w, p.power_low_w);
  worst.power_high_w = std::max(worst.power_high_w, p.power_high_w);
  worst.sense |= p.sense;
  worst.bend_mm = std::max(worst.bend_mm, p.bend_mm);
}

// Time a feed motion spends below 80 % of what was commanded.
double slow_time(const timing::TimedMotion& timed, const nc::Motion& motion, double length) {
  const double mark = 0.8 * motion.feed / 60.0;
  if (timed.cruise_speed < mark) return timed.time_s;
  // The cruise is above the mark: only the ramps' lower parts count. Found by bisection on speed.
  const auto crossing = [&](double inside, double outside) {
    for (int i = 0; i < 40; ++i) {
      const double middle = 0.5 * (inside + outside);
      (timing::speed_at(timed, length, middle) < mark ? outside : inside) = middle;
    }
    return 0.5 * (inside + outside);
  };
  const double middle = 0.5 * length;
  double slow = 0;
  if (timed.entry_speed < mark) slow += timing::time_at(timed, length, crossing(middle, 0));
  if (timed.exit_speed < mark) {
    slow += timed.time_s - timing::time_at(timed, length, crossing(middle, length));
  }
  return std::clamp(slow, 0.0, timed.time_s);
}

}  // namespace

double time_in_material(const timing::TimedMotion& timed, double length,
                        std::span<const stock::EngagementSample> samples) {
  double in_material = 0;
  for (const auto& s : samples) {
    const double from = std::clamp<double>(s.along - 0.5 * s.length, 0, length);
    const double to = std::clamp<double>(s.along + 0.5 * s.length, 0, length);
    in_material += timing::time_at(timed, length, to) - timing::time_at(timed, length, from);
  }
  return std::clamp(in_material, 0.0, timed.time_s);
}

std::vector<ToolResult> tool_summary(const SetupCut& setup, const MotionLoads& loads,
                                     const job::Job& job) {
  std::vector<ToolResult> tools;
  Sums sums(tools, job);
  const nc::Program& program = *setup.source;
  for (std::size_t i = 0; i < program.motions.size(); ++i) {
    const nc::Motion& m = program.motions[i];
    const timing::TimedMotion& timed = setup.plan.motions[i];
    const stock::MotionOutcome& outcome = setup.cut.motions[i];
    ToolResult& t = sums.of(program.states[m.state].tool);
    const double length = nc::length(m);
    if (length > 0) t.naive_s += length / timing::limits_of(m, length, job.machine).commanded;
    ++t.moves;
    t.removed_mm3 += outcome.removed_mm3;
    if (i < loads.energy_j.size()) t.energy_j += loads.energy_j[i];
    if (m.kind == nc::PathKind::rapid) {
      t.rapid_s += timed.time_s;
      t.rapid_mm += length;
    } else {
      t.feed_s += timed.time_s;
      t.feed_mm += length;
      const double slow = slow_time(timed, m, length);
      t.slow_s += slow;
      t.slow_by_s[static_cast<std::size_t>(timed.slowed_by)] += slow;
      const std::span samples(setup.cut.samples.data() + outcome.first_sample,
                              outcome.sample_count);
      t.air_s += timed.time_s - time_in_material(timed, length, samples);
    }
    if (loads.peaks[i].force_n > t.peak.worst.force_n || t.peak.line == 0) t.peak.line = m.line;
    raise(t.peak.worst, loads.peaks[i]);
  }
  // Waits and events both stand in program order; the state after the event names the tool that
  // waits.
  auto event = program.events.begin();
  for (const timing::Wait& w : setup.plan.waits) {
    while (event != program.events.end() &&
           !(event->before_motion == w.before_motion && event->kind == w.kind)) {
      ++event;
    }
    if (event == program.events.end()) break;
    ToolResult& t = sums.of(program.states[event->state].tool);
    ++event;
    t.naive_s += w.time_s;
    if (w.kind == nc::EventKind::tool_change)
      t.change_s += w.time_s;
    else if (w.kind == nc::EventKind::spindle)
      t.spin_up_s += w.time_s;
    else
      t.dwell_s += w.time_s;
  }
  // A tool number 0 with nothing to its name is only the state before the first change.
  std::erase_if(tools, [](const ToolResult& t) { return t.number == 0 && t.time_s() <= 0; });
  return tools;
}

}  // namespace proveout::run
