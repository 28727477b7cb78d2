#include "sim/run/load_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace proveout::run {
namespace {

// Engagement the grid cannot tell from a touch: less than this is not judged, mm.
constexpr double least_depth = 0.02;
// A steeper way down than this counts as a plunge (common practice: ramps run at 1 to 5 degrees in
// metal).
constexpr double steepest_ramp = 10.0 / deg_per_rad;
constexpr double bend_limit_mm = 0.05;  // common practice for roughing, no source
constexpr double thin_share = 0.5;      // of the least chip: below it the edge rubs

}  // namespace

LoadJudge::LoadJudge(const SetupContext& context, SetupResult& result, FindingCollector& findings)
    : context_(context), result_(result), program_(*result.source), findings_(findings) {}

LoadJudge::PerTool* LoadJudge::of(int number) {
  const auto [place, is_new] = tools_.try_emplace(number);
  PerTool& t = place->second;
  if (is_new) {
    for (const job::Tool& tool : context_.job.tools) {
      if (tool.number == number) t.tool = &tool;
    }
    if (t.tool != nullptr) {
      t.model = std::make_unique<cutting::LoadModel>(*t.tool, context_.material);
      t.limits = t.tool->limits;
      const auto own = t.tool->limits_in.find(context_.material.name);
      if (own != t.tool->limits_in.end()) {
        if (own->second.axial_depth > 0) t.limits.axial_depth = own->second.axial_depth;
        if (own->second.radial_width > 0) t.limits.radial_width = own->second.radial_width;
        if (own->second.plunge_feed > 0) t.limits.plunge_feed = own->second.plunge_feed;
      }
    }
  }
  return t.tool == nullptr ? nullptr : &t;
}

Finding LoadJudge::finding(std::size_t motion, FindingKind kind, Severity level,
                           double along) const {
  const nc::Motion& m = program_.motions[motion];
  Finding f;
  f.kind = kind;
  f.level = level;
  f.setup = result_.name;
  f.tool = program_.states[m.state].tool;
  f.file = result_.program;
  f.line = m.line;
  const double length = nc::length(m);
  f.at = nc::point_at(m, length > 0 ? std::clamp(along / length, 0.0, 1.0) : 1);
  return f;
}

void LoadJudge::judge(std::size_t motion) {
  const nc::Motion& m = program_.motions[motion];
  const stock::MotionOutcome& outcome = result_.cut.motions[motion];
  if (outcome.sample_count == 0) return;
  PerTool* t = of(program_.states[m.state].tool);
  if (t == nullptr) return;
  const timing::TimedMotion& timed = result_.plan.motions[motion];
  const double length = nc::length(m);
  const nc::ModalState& state = program_.states[m.state];
  MotionPeak& peak = result_.peaks[motion];
  for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
    const stock::EngagementSample& s = result_.cut.samples[outcome.first_sample + k];
    const double speed = 60 * timing::speed_at(timed, length, s.along);
    const bool clockwise = state.turn != nc::SpindleTurn::counter_clockwise;
    const cutting::CutLoad l = t->model->at(s, speed, state.spindle_rpm, clockwise);
    const auto raise = [](float& most, double v) { most = std::max(most, static_cast<float>(v)); };
    raise(peak.axial_depth, s.axial_depth);
    raise(peak.radial_width, s.radial_width);
    raise(peak.engagement_deg, s.arc);
    raise(peak.removal_mm3_min, l.removal_mm3_min);
    raise(peak.chip_mm, l.chip_mm);
    raise(peak.force_n, l.force_n);
    raise(peak.power_w, l.power_w);
    raise(peak.bend_mm, l.bend_mm);
    if (speed > 0)
      result_.energy_j[motion] += static_cast<float>(l.power_w * s.stretch / speed * 60);
    if (m.kind == nc::PathKind::rapid) continue;  // rapid-contact says it all
    if (s.axial_depth < least_depth) continue;
    spindle(*t, motion, s);
    depth(*t, motion, s);
    plunge(*t, motion, s, speed);
    if (state.turn != nc::SpindleTurn::stopped) loads(*t, motion, s, l);
    if (l.feed_per_tooth_mm > 0) {
      const double seconds = speed > 0 ? s.stretch / speed * 60 : 0;
      const double least = context_.material.chip_per_mm_diameter.first * t->tool->diameter;
      t->in_cut_s += seconds;
      if (l.feed_per_tooth_mm < thin_share * least) {
        t->thin_s += seconds;
        if (l.feed_per_tooth_mm < t->thinnest) {
          t->thinnest = l.feed_per_tooth_mm;
          t->thin_motion = motion;
        }
      }
    }
  }
}

void LoadJudge::spindle(PerTool& t, std::size_t motion, const stock::EngagementSample& s) {
  const nc::ModalState& state = program_.states[program_.motions[motion].state];
  if (state.turn == nc::SpindleTurn::stopped || !(state.spindle_rpm > 0)) {
    Finding f = finding(motion, FindingKind::spindle_stopped, Severity::error, s.along);
    f.value = s.axial_depth;
    f.unit = "mm";
    f.text = fmt::format("cuts {:.2f} mm deep while the spindle {}", s.axial_depth,
                         state.turn == nc::SpindleTurn::stopped ? "stands still" : "has no speed");
    findings_.add(std::move(f));
  }
  const job::Spindle& sp = context_.job.machine.spindle;
  const bool slow = sp.min_rpm > 0 && state.spindle_rpm < sp.min_rpm;
  const bool fast = sp.max_rpm > 0 && state.spindle_rpm > sp.max_rpm;
  if (!t.speed_said && (slow || fast) && state.spindle_rpm > 0) {
    t.speed_said = true;
    Finding f = finding(motion, FindingKind::speed_clipped, Severity::warning, s.along);
    f.value = state.spindle_rpm;
    f.limit = slow ? sp.min_rpm : sp.max_rpm;
    f.unit = "1/min";
    f.text = fmt::format("S{:.0f} is {} the spindle's range, {:.0f} to {:.0f}", state.spindle_rpm,
                         slow ? "below" : "above", sp.min_rpm, sp.max_rpm);
    findings_.add(std::move(f));
  }
}

void LoadJudge::depth(PerTool& t, std::size_t motion, const stock::EngagementSample& s) {
  const double slack = 0.05 + 0.01 * s.axial_depth;  // of the grid and of rounded coordinates
  // A skin on a wall is no deep cut, however tall: depth is judged from a twentieth of the diameter
  // on.
  const bool skin = s.radial_width < 0.05 * t.tool->diameter;
  if (!skin && t.limits.axial_depth > 0 && s.axial_depth > t.limits.axial_depth + slack) {
    Finding f = finding(motion, FindingKind::over_depth, Severity::error, s.along);
    f.value = s.axial_depth;
    f.limit = t.limits.axial_depth;
    f.unit = "mm";
    f.text = fmt::format("cuts {:.2f} mm deep, {:.2f} allowed for this tool", f.value, f.limit);
    findings_.add(std::move(f));
  } else if (t.limits.axial_depth <= 0 && context_.material.depth_per_diameter > 0 && s.arc > 150 &&
             s.arc < 200 && t.tool->shape != job::ToolShape::drill &&
             s.axial_depth > context_.material.depth_per_diameter * t.tool->diameter + slack) {
    Finding f = finding(motion, FindingKind::over_depth, Severity::warning, s.along);
    f.value = s.axial_depth;
    f.limit = context_.material.depth_per_diameter * t.tool->diameter;
    f.unit = "mm";
    f.text = fmt::format("a full slot {:.2f} mm deep; {:.2f} is the rule in {} (assumed)", f.value,
                         f.limit, context_.material.name);
    findings_.add(std::move(f));
  }
  const double flutes = t.tool->flute_length;
  if (flutes > 0 && s.bottom + s.axial_depth > flutes + slack) {
    Finding f = finding(motion, FindingKind::over_depth, Severity::error, s.along);
    f.value = s.bottom + s.axial_depth;
    f.limit = flutes;
    f.unit = "mm";
    f.detail = "above-flutes";
    f.text = fmt::format("material stands {:.2f} mm above the tip, the flutes end at {:.2f}",
                         f.value, f.limit);
    findings_.add(std::move(f));
  }
  if (t.limits.radial_width > 0 && s.radial_width > t.limits.radial_width + slack) {
    Finding f = finding(motion, FindingKind::over_width, Severity::error, s.along);
    f.value = s.radial_width;
    f.limit = t.limits.radial_width;
    f.unit = "mm";
    f.text = fmt::format("cuts {:.2f} mm wide, {:.2f} allowed for this tool", f.value, f.limit);
    findings_.add(std::move(f));
  }
}

void LoadJudge::loads(PerTool& t, std::size_t motion, const stock::EngagementSample& s,
                      const cutting::CutLoad& l) {
  const auto over = [&](FindingKind kind, Severity level, double value, double limit,
                        const char* unit, std::string text) {
    if (!(limit > 0) || !(value > limit)) return;
    Finding f = finding(motion, kind, level, s.along);
    f.value = value;
    f.limit = limit;
    f.unit = unit;
    f.text = std::move(text);
    findings_.add(std::move(f));
  };
  const double thick = 1.25 * context_.material.chip_per_mm_diameter.second * t.tool->diameter;
  over(FindingKind::chip_thick, Severity::warning, l.chip_mm, thick, "mm",
       fmt::format("chips of {:.3f} mm, {:.3f} is the most in {} for this diameter (assumed)",
                   l.chip_mm, thick, context_.material.name));
  const job::Spindle& sp = context_.job.machine.spindle;
  const nc::ModalState& state = program_.states[program_.motions[motion].state];
  const double rated = sp.rated_rpm > 0 ? sp.rated_rpm : sp.max_rpm;
  const double there =
      sp.power_w * sp.efficiency * (rated > 0 ? std::min(1.0, state.spindle_rpm / rated) : 1.0);
  over(FindingKind::over_power, Severity::error, l.power_w, there, "W",
       fmt::format("needs {:.0f} W at the spindle nose, {:.0f} are there at this speed", l.power_w,
                   there));
  over(FindingKind::over_bend, Severity::warning, l.bend_mm, bend_limit_mm, "mm",
       fmt::format("the tool bends {:.3f} mm, {:.3f} is the rule (assumed)", l.bend_mm,
                   bend_limit_mm));
  if (s.arc > 180.5f || t.tool->shape == job::ToolShape::drill ||
      s.axial_depth < 0.1 * t.tool->diameter)
    return;
  const double limit = t.model->limit_depth_mm(state.spindle_rpm, s.arc_from, s.arc_to, true);
  over(FindingKind::chatter, Severity::note, s.axial_depth, limit, "mm",
       fmt::format("{:.2f} mm deep, stable to about {:.2f} at this speed by a rough model",
                   s.axial_depth, limit));
}

void LoadJudge::plunge(PerTool& t, std::size_t motion, const stock::EngagementSample& s,
                       double speed) {
  const nc::Motion& m = program_.motions[motion];
  if (t.tool->shape == job::ToolShape::drill) return;
  const double length = nc::length(m);
  if (!(length > 0)) return;
  const double down = -(nc::tangent_at(m, std::clamp(s.along / length, 0.0, 1.0)).z());
  if (down < std::sin(steepest_ramp)) return;
  if (!t.tool->centre_cutting) {
    Finding f = finding(motion, FindingKind::plunge, Severity::error, s.along);
    f.value = std::asin(std::min(1.0, down)) * deg_per_rad;
    f.limit = steepest_ramp * deg_per_rad;
    f.unit = "deg";
    f.text = fmt::format("goes down at {:.0f} degrees with a tool that does not cut at its centre",
                         f.value);
    findings_.add(std::move(f));
    return;
  }
  const double limit = t.limits.plunge_feed;
  if (limit > 0 && speed * down > 1.02 * limit) {
    Finding f = finding(motion, FindingKind::plunge, Severity::error, s.along);
    f.value = speed * down;
    f.limit = limit;
    f.unit = "mm/min";
    f.text = fmt::format("goes down at {:.0f} mm/min in material, {:.0f} allowed for this tool",
                         f.value, f.limit);
    findings_.add(std::move(f));
  }
}

void LoadJudge::finish() {
  for (auto& [number, t] : tools_) {
    if (t.tool == nullptr || t.in_cut_s <= 0 || t.thin_s < 0.2 * t.in_cut_s) continue;
    if (t.tool->shape == job::ToolShape::drill) continue;
    Finding f = finding(t.thin_motion, FindingKind::chip_thin, Severity::note, 0);
    f.value = t.thinnest;
    f.limit = thin_share * context_.material.chip_per_mm_diameter.first * t.tool->diameter;
    f.unit = "mm";
    f.text = fmt::format(
        "{:.0f} % of the time in cut runs below {:.4f} mm a tooth: the edge may rub (assumed)",
        100 * t.thin_s / t.in_cut_s, f.limit);
    findings_.add(std::move(f));
  }
}

}  // namespace proveout::run
