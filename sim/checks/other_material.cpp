// 'This reads like an MDF file': feeds and depths that lie outside this material's limits and
// inside those of another of the table. Its findings are of the kind of the first thing that speaks
// for it, detail other-material.
#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

struct Most {  // the largest of something, and where
  double value = 0;
  std::size_t motion = 0;
  void raise(double v, std::size_t m) {
    if (v > value) *this = {v, m};
  }
};

struct Reading {  // one thing that speaks for another material
  FindingKind kind;
  double value, limit, other_limit;
  const char* unit;
  const char* what;
  std::size_t motion;
};

class OtherMaterial : public run::ToolCheck {
 public:
  using ToolCheck::ToolCheck;

  void see(const run::CutSample& sample, FindingCollector&) override {
    const stock::EngagementSample& s = sample.engagement;
    if (!is_skin(s, use_.tool)) deepest_.raise(s.axial_depth, sample.motion);
    if (is_slot(s)) deepest_slot_.raise(s.axial_depth, sample.motion);
    const double down = sample.downward();
    const bool may_plunge = use_.tool.centre_cutting || !job::mills(use_.tool);
    if (may_plunge && down >= std::sin(steepest_ramp))
      fastest_down_.raise(sample.speed * down, sample.motion);
    if (!(sample.load.feed_per_tooth_mm > 0)) return;
    if (chips_.empty()) cut_motion_ = sample.motion;
    chips_.emplace_back(sample.load.feed_per_tooth_mm / use_.tool.diameter, sample.seconds);
    in_cut_s_ += sample.seconds;
  }

  void finish(FindingCollector& findings) override {
    if (chips_.empty() || !job::mills(use_.tool)) return;
    const double chip = middle_chip();
    std::vector<Reading> most;
    const cutting::Material* like = nullptr;
    for (const cutting::Material& m : cutting::built_in_materials()) {
      if (!m.cuttable || m.name == use_.context.material.name) continue;
      auto found = readings(chip, m);
      // One deep cut alone is a mistake in any material; a chip, or two things together, speak for
      // a file.
      const bool of_chip = !found.empty() && (found.back().kind == FindingKind::chip_thick ||
                                              found.back().kind == FindingKind::chip_thin);
      if (found.size() <= most.size() || (found.size() < 2 && !of_chip)) continue;
      most = std::move(found);
      like = &m;
    }
    if (like != nullptr) tell(*like, most, findings);
  }

 private:
  void tell(const cutting::Material& like, const std::vector<Reading>& readings,
            FindingCollector& findings) const {
    const Reading& first = readings.front();
    Finding f = finding(first.motion, 0, first.kind, Severity::warning);
    f.detail = "other-material";
    f.value = first.value;
    f.limit = first.limit;
    f.unit = first.unit;
    f.text =
        fmt::format("reads like a file for {}, not {}:", like.name, use_.context.material.name);
    for (const Reading& r : readings) {
      f.text +=
          fmt::format("{} {:.4g} {} {} where {:.4g} and {:.4g} are the limits",
                      &r == &first ? "" : ",", r.value, r.unit, r.what, r.other_limit, r.limit);
    }
    findings.add(std::move(f));
  }

  // Feed per tooth over diameter: half the time in cut runs below it.
  double middle_chip() {
    std::sort(chips_.begin(), chips_.end());
    double before = 0;
    for (const auto& [chip, seconds] : chips_) {
      before += seconds;
      if (2 * before >= in_cut_s_) return chip;
    }
    return chips_.empty() ? 0 : chips_.back().first;
  }

  // What lies outside this material's limits and inside the other's; empty, too, where anything
  // lies outside the other's. Depth and plunge by the tool's own limits for each, else depth in a
  // full slot by the materials' rules.
  std::vector<Reading> readings(double chip, const cutting::Material& other) const {
    std::vector<Reading> out;
    bool fits = true;
    const auto held = [&](const Reading& r) {
      if (!(r.limit > 0) || !(r.other_limit > r.limit)) return;
      if (r.value > 1.02 * r.other_limit + 0.05) fits = false;
      if (r.value > 1.02 * r.limit + 0.05) out.push_back(r);
    };
    const cutting::Material& own_material = use_.context.material;
    const double d = use_.tool.diameter;
    const auto limits = use_.tool.limits_in.find(other.name);
    const bool own = limits != use_.tool.limits_in.end();
    if (use_.limits.axial_depth > 0) {
      held({FindingKind::over_depth, deepest_.value, use_.limits.axial_depth,
            own ? limits->second.axial_depth : 0, "mm", "deep", deepest_.motion});
    } else {
      held({FindingKind::over_depth, deepest_slot_.value, own_material.depth_per_diameter * d,
            other.depth_per_diameter * d, "mm", "deep in a slot", deepest_slot_.motion});
    }
    held({FindingKind::plunge, fastest_down_.value, use_.limits.plunge_feed,
          own ? limits->second.plunge_feed : 0, "mm/min", "straight down", fastest_down_.motion});
    const auto [least, most] = own_material.chip_per_mm_diameter;
    if (chip > most && chip <= other.chip_per_mm_diameter.second)
      out.push_back({FindingKind::chip_thick, chip * d, most * d,
                     other.chip_per_mm_diameter.second * d, "mm", "a tooth", cut_motion_});
    if (chip > 1.25 * other.chip_per_mm_diameter.second) fits = false;
    if (chip < thin_share * least && chip >= thin_share * other.chip_per_mm_diameter.first)
      out.push_back({FindingKind::chip_thin, chip * d, least * d,
                     other.chip_per_mm_diameter.first * d, "mm", "a tooth", cut_motion_});
    if (!fits) out.clear();
    return out;
  }

  // Feed per tooth over diameter in each sample, and its seconds.
  std::vector<std::pair<double, double>> chips_;
  double in_cut_s_ = 0;
  std::size_t cut_motion_ = 0;                  // the first that cut
  Most deepest_, deepest_slot_, fastest_down_;  // mm, mm, mm/min
};

}  // namespace

constinit const run::StartToolCheck other_material = run::start<OtherMaterial>;

}  // namespace proveout::checks
