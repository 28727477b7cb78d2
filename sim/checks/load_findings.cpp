#include "sim/checks/load_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

// Engagement the grid cannot tell from a touch: less than this is not judged, mm.
constexpr double least_depth = 0.02;
// A steeper way down than this counts as a plunge (common practice: ramps run at 1 to 5 degrees in
// metal).
constexpr double steepest_ramp = 10.0 / deg_per_rad;
constexpr double bend_limit_mm = 0.05;  // common practice for roughing, no source
constexpr double thin_share = 0.5;      // of the least chip: below it the edge rubs

}  // namespace

LoadJudge::LoadJudge(const run::SetupContext& context, run::SetupResult& result, FindingCollector& findings)
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
      t.limits = t.tool->limits_for(context_.material.name);
    }
  }
  return t.tool == nullptr ? nullptr : &t;
}

Finding LoadJudge::finding(std::size_t motion, FindingKind kind, Severity level,
                           double along) const {
  const nc::Motion& m = program_.motions[motion];
  Finding f = run::motion_finding(result_, m, kind, level);
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
  run::MotionPeak& peak = result_.peaks[motion];
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
      result_.energy_j[motion] += static_cast<float>(l.power_w * s.length / speed * 60);
    if (m.kind == nc::PathKind::rapid) continue;  // rapid-contact says it all
    if (s.axial_depth < least_depth) continue;
    spindle(*t, motion, s);
    reversed(*t, motion, s);
    depth(*t, motion, s);
    plunge(*t, motion, s, speed);
    if (state.turn != nc::SpindleTurn::stopped) loads(*t, motion, s, l);
    if (l.feed_per_tooth_mm > 0) {
      const double seconds = speed > 0 ? s.length / speed * 60 : 0;
      const double least = context_.material.chip_per_mm_diameter.first * t->tool->diameter;
      if (t->chips.empty()) t->cut_motion = motion;
      t->chips.emplace_back(l.feed_per_tooth_mm / t->tool->diameter, seconds);
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

// Right-hand cutters cut while turning clockwise (common practice, no source); the job file has no
// left-hand ones. A tap backs out of its hole turning the other way: taps stand in as drills.
void LoadJudge::reversed(PerTool& t, std::size_t motion, const stock::EngagementSample& s) {
  const nc::Motion& m = program_.motions[motion];
  const nc::ModalState& state = program_.states[m.state];
  if (t.reversed_said || state.turn != nc::SpindleTurn::counter_clockwise) return;
  if (t.tool->shape == job::ToolShape::drill && m.end.z() > m.start.z()) return;
  t.reversed_said = true;
  Finding f = finding(motion, FindingKind::spindle_reversed, Severity::warning, s.along);
  f.value = s.axial_depth;
  f.unit = "mm";
  f.text = fmt::format(
      "cuts {:.2f} mm deep while the spindle turns counter-clockwise (M4): right-hand cutters need "
      "M3, and a job cannot declare a left-hand one",
      s.axial_depth);
  findings_.add(std::move(f));
}

void LoadJudge::depth(PerTool& t, std::size_t motion, const stock::EngagementSample& s) {
  const double slack = 0.05 + 0.01 * s.axial_depth;  // of the grid and of rounded coordinates
  // A skin on a wall is no deep cut, however tall: depth is judged from a twentieth of the diameter
  // on.
  const bool skin = s.radial_width < 0.05 * t.tool->diameter;
  if (!skin) t.deepest.raise(s.axial_depth, motion);
  if (s.arc > 150 && s.arc < 200) t.deepest_slot.raise(s.axial_depth, motion);
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
       fmt::format(
           "the tool bends {:.3f} mm, {:.3f} is the rule (assumed); {:.3f} mm of it stay on the "
           "finished wall",
           l.bend_mm, bend_limit_mm, l.bend_on_wall_mm));
  stability(t, motion, s);
}

void LoadJudge::stability(PerTool& t, std::size_t motion, const stock::EngagementSample& s) {
  // A plunge has no feed direction, and a graze no depth to speak of.
  if (s.arc > 180.5f || t.tool->shape == job::ToolShape::drill ||
      s.axial_depth < 0.1 * t.tool->diameter)
    return;
  const nc::ModalState& state = program_.states[program_.motions[motion].state];
  const bool clockwise = state.turn != nc::SpindleTurn::counter_clockwise;
  const double limit = t.model->limit_depth_mm(state.spindle_rpm, s.arc_from, s.arc_to, clockwise);
  if (!(s.axial_depth > limit)) return;
  PerTool::Chatter& c = t.chatter;
  if (c.motions == 0 || c.motion != motion) ++c.motions;
  const double beyond = s.axial_depth / limit;
  const std::uint64_t motions = c.motions;
  if (beyond > c.beyond) {
    c = {beyond,  s.axial_depth, limit,  s.arc_from, s.arc_to, state.spindle_rpm,
         s.along, clockwise,     motion, motions};
  }
}

void LoadJudge::plunge(PerTool& t, std::size_t motion, const stock::EngagementSample& s,
                       double speed) {
  const nc::Motion& m = program_.motions[motion];
  const double length = nc::length(m);
  if (!(length > 0)) return;
  const double down = -(nc::tangent_at(m, std::clamp(s.along / length, 0.0, 1.0)).z());
  if (down < std::sin(steepest_ramp)) return;
  if (!t.tool->centre_cutting && t.tool->shape != job::ToolShape::drill) {
    Finding f = finding(motion, FindingKind::plunge, Severity::error, s.along);
    f.value = std::asin(std::min(1.0, down)) * deg_per_rad;
    f.limit = steepest_ramp * deg_per_rad;
    f.unit = "deg";
    f.text = fmt::format("goes down at {:.0f} degrees with a tool that does not cut at its centre",
                         f.value);
    findings_.add(std::move(f));
    return;
  }
  t.fastest_down.raise(speed * down, motion);
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

void LoadJudge::tell_thin_chips(const PerTool& t) {
  if (t.in_cut_s <= 0 || t.thin_s < 0.2 * t.in_cut_s) return;
  Finding f = finding(t.thin_motion, FindingKind::chip_thin, Severity::note, 0);
  f.value = t.thinnest;
  f.limit = thin_share * context_.material.chip_per_mm_diameter.first * t.tool->diameter;
  f.unit = "mm";
  f.text = fmt::format(
      "{:.0f} % of the time in cut runs below {:.4f} mm a tooth: the edge may rub (assumed)",
      100 * t.thin_s / t.in_cut_s, f.limit);
  findings_.add(std::move(f));
}

void LoadJudge::tell_chatter(const PerTool& t) {
  const PerTool::Chatter& c = t.chatter;
  if (c.motions == 0) return;
  const job::Spindle& sp = context_.job.machine.spindle;
  const double slowest = sp.min_rpm > 0 ? sp.min_rpm : 0.5 * c.rpm;
  const double fastest = sp.max_rpm > 0 ? sp.max_rpm : 1.5 * c.rpm;
  const double calm = t.model->nearest_calm_rpm(c.rpm, 1.05 * c.depth, c.arc_from, c.arc_to,
                                                c.clockwise, slowest, fastest);
  const double best = t.model->calmest_rpm(c.arc_from, c.arc_to, c.clockwise, slowest, fastest);
  Finding f = finding(c.motion, FindingKind::chatter, Severity::note, c.along);
  f.value = c.depth;
  f.limit = c.limit;
  f.unit = "mm";
  f.count = c.motions;
  f.text = fmt::format(
      "{:.2f} mm deep, stable to about {:.2f} at S{:.0f} by a rough model; {}", c.depth, c.limit,
      c.rpm,
      calm > 0
          ? fmt::format("the nearest calm speed is about {:.0f}", calm)
          : fmt::format("no speed of this spindle is calm at that depth, S{:.0f} bears "
                        "most, {:.2f} mm",
                        best, t.model->limit_depth_mm(best, c.arc_from, c.arc_to, c.clockwise)));
  findings_.add(std::move(f));
}

// Feed per tooth over diameter: half the time in cut runs below it.
double LoadJudge::middle_chip(PerTool& t) const {
  std::sort(t.chips.begin(), t.chips.end());
  double before = 0;
  for (const auto& [chip, seconds] : t.chips) {
    before += seconds;
    if (2 * before >= t.in_cut_s) return chip;
  }
  return t.chips.empty() ? 0 : t.chips.back().first;
}

// What lies outside this material's limits and inside the other's; empty, too, where anything lies
// outside the other's. Depth and plunge by the tool's own limits for each, else depth in a full
// slot by the materials' rules.
std::vector<LoadJudge::Reading> LoadJudge::readings(const PerTool& t, double chip,
                                                    const cutting::Material& other) const {
  std::vector<Reading> out;
  bool fits = true;
  const auto held = [&](const Reading& r) {
    if (!(r.limit > 0) || !(r.other_limit > r.limit)) return;
    if (r.value > 1.02 * r.other_limit + 0.05) fits = false;
    if (r.value > 1.02 * r.limit + 0.05) out.push_back(r);
  };
  const double d = t.tool->diameter;
  const auto limits = t.tool->limits_in.find(other.name);
  const bool own = limits != t.tool->limits_in.end();
  if (t.limits.axial_depth > 0) {
    held({FindingKind::over_depth, t.deepest.value, t.limits.axial_depth,
          own ? limits->second.axial_depth : 0, "mm", "deep", t.deepest.motion});
  } else {
    held({FindingKind::over_depth, t.deepest_slot.value, context_.material.depth_per_diameter * d,
          other.depth_per_diameter * d, "mm", "deep in a slot", t.deepest_slot.motion});
  }
  held({FindingKind::plunge, t.fastest_down.value, t.limits.plunge_feed,
        own ? limits->second.plunge_feed : 0, "mm/min", "straight down", t.fastest_down.motion});
  const auto [least, most] = context_.material.chip_per_mm_diameter;
  if (chip > most && chip <= other.chip_per_mm_diameter.second)
    out.push_back({FindingKind::chip_thick, chip * d, most * d,
                   other.chip_per_mm_diameter.second * d, "mm", "a tooth", t.cut_motion});
  if (chip > 1.25 * other.chip_per_mm_diameter.second) fits = false;
  if (chip < thin_share * least && chip >= thin_share * other.chip_per_mm_diameter.first)
    out.push_back({FindingKind::chip_thin, chip * d, least * d,
                   other.chip_per_mm_diameter.first * d, "mm", "a tooth", t.cut_motion});
  if (!fits) out.clear();
  return out;
}

// 'This reads like an MDF file.'
void LoadJudge::tell_other_material(PerTool& t) {
  if (t.chips.empty()) return;
  const double chip = middle_chip(t);
  std::vector<Reading> most;
  const cutting::Material* like = nullptr;
  for (const cutting::Material& m : cutting::built_in_materials()) {
    if (!m.cuttable || m.name == context_.material.name) continue;
    auto found = readings(t, chip, m);
    // One deep cut alone is a mistake in any material; a chip, or two things together, speak for a
    // file.
    const bool of_chip = !found.empty() && (found.back().kind == FindingKind::chip_thick ||
                                            found.back().kind == FindingKind::chip_thin);
    if (found.size() <= most.size() || (found.size() < 2 && !of_chip)) continue;
    most = std::move(found);
    like = &m;
  }
  if (like == nullptr) return;
  const Reading& first = most.front();
  Finding f = finding(first.motion, first.kind, Severity::warning, 0);
  f.detail = "other-material";
  f.value = first.value;
  f.limit = first.limit;
  f.unit = first.unit;
  f.text = fmt::format("reads like a file for {}, not {}:", like->name, context_.material.name);
  for (const Reading& r : most) {
    f.text += fmt::format("{} {:.4g} {} {} where {:.4g} and {:.4g} are the limits",
                          &r == &first ? "" : ",", r.value, r.unit, r.what, r.other_limit, r.limit);
  }
  findings_.add(std::move(f));
}

void LoadJudge::finish() {
  for (auto& [number, t] : tools_) {
    if (t.tool == nullptr || t.tool->shape == job::ToolShape::drill) continue;
    tell_thin_chips(t);
    tell_chatter(t);
    tell_other_material(t);
  }
}

}  // namespace proveout::checks
