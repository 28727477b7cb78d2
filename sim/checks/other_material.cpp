// 'This reads like an MDF file': feeds, depths and speeds that lie outside this material's limits
// and inside those of another of the table. Judged over the time in cut at steady engagement, not
// by ramps and plunges, and said only where two independent signs agree and nothing speaks against.
// Its findings are of the kind of the first sign, detail other-material.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

// A cut is steady where it runs about level, near the feed asked for, and alike to the sample
// before.
constexpr double level = 2.0 / deg_per_rad, near_feed = 0.8, alike = 0.25;
// A sign must show over so much of the time at steady engagement.
constexpr double share_of_time = 0.25;

// A figure over time: the value that so much of the time lies at or above, and where.
class OverTime {
 public:
  void add(double value, double seconds, std::size_t motion) {
    rows_.push_back({value, seconds, motion});
    seconds_ += seconds;
  }
  bool empty() const { return rows_.empty() || !(seconds_ > 0); }
  // The value reached or passed during this share of the time, and the motion of it.
  std::pair<double, std::size_t> reached_for(double share) {
    std::stable_sort(rows_.begin(), rows_.end(),
                     [](const Row& a, const Row& b) { return a.value > b.value; });
    double before = 0;
    for (const Row& r : rows_) {
      before += r.seconds;
      if (before >= share * seconds_) return {r.value, r.motion};
    }
    return {rows_.back().value, rows_.back().motion};
  }

 private:
  struct Row {
    double value, seconds;
    std::size_t motion;
  };
  std::vector<Row> rows_;
  double seconds_ = 0;
};

struct Sign {  // one thing that speaks for another material
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
    const double down = sample.downward();
    if (down >= straight_down && sample.turning())
      plunges_.add(sample.speed * down / plunge_rule_of(use_.context.material, sample),
                   sample.seconds, sample.motion);
    if (down >= std::sin(steepest_ramp) && sample.turning())
      descents_.add(sample.speed * down, sample.seconds, sample.motion);
    const double depth = s.axial_depth;
    const bool steady = std::abs(down) < std::sin(level) && sample.path.feed > 0 &&
                        sample.speed >= near_feed * sample.path.feed && !is_skin(s, use_.tool) &&
                        depth > least_depth && std::abs(depth - before_) <= alike * depth;
    before_ = depth;
    if (!steady || !(sample.load.feed_per_tooth_mm > 0)) return;
    const double d = use_.tool.diameter;
    chips_.add(sample.load.feed_per_tooth_mm / d, sample.seconds, sample.motion);
    speeds_.add(pi * d * sample.state.spindle_rpm / 1000, sample.seconds, sample.motion);
    depths_.add(use_.limits.axial_depth > 0 || is_slot(s) ? depth : 0, sample.seconds,
                sample.motion);
  }

  void finish(FindingCollector& findings) override {
    if (chips_.empty() || !job::mills(use_.tool)) return;
    chip_ = chips_.reached_for(0.5);
    speed_ = speeds_.reached_for(0.5);
    depth_ = depths_.reached_for(share_of_time);
    if (!plunges_.empty()) plunge_ = plunges_.reached_for(0.5);
    if (!descents_.empty()) descent_ = descents_.reached_for(share_of_time);
    std::vector<Sign> most;
    std::vector<std::string> like;  // those with as many signs
    for (const cutting::Material& m : cutting::built_in_materials()) {
      if (!m.cuttable || m.name == use_.context.material.name) continue;
      auto found = signs(m);
      if (found.size() < 2 || found.size() < most.size()) continue;
      if (found.size() > most.size()) {
        like.clear();
        most = std::move(found);
      }
      like.push_back(m.name);
    }
    if (!like.empty()) tell(like, most, findings);
  }

 private:
  double plunge_rule_of(const cutting::Material& material, const run::CutSample& sample) const {
    return std::max(plunge_rule(material, use_.tool, sample.state.spindle_rpm), 1e-9);
  }

  void tell(const std::vector<std::string>& like, const std::vector<Sign>& signs,
            FindingCollector& findings) const {
    const Sign& first = signs.front();
    Finding f = finding(first.motion, 0, first.kind, Severity::warning);
    f.detail = "other-material";
    f.value = first.value;
    f.limit = first.limit;
    f.unit = first.unit;
    std::string names = like.front();
    for (std::size_t k = 1; k < like.size(); ++k)
      names += (k + 1 < like.size() ? ", " : " or ") + like[k];
    f.text = fmt::format("reads like a file for {}, not {}:", names, use_.context.material.name);
    for (const Sign& r : signs) {
      f.text +=
          fmt::format("{} {:.4g} {} {} where {:.4g} and {:.4g} are the limits",
                      &r == &first ? "" : ",", r.value, r.unit, r.what, r.other_limit, r.limit);
    }
    findings.add(std::move(f));
  }

  // What lies outside this material's limits and inside the other's; empty, too, where anything
  // lies outside the other's. Depth by the tool's own limits for each, else in a full slot by the
  // materials' rules; a plunge alone, or with no sign of the steady cut, says nothing.
  std::vector<Sign> signs(const cutting::Material& other) const {
    std::vector<Sign> out;
    bool fits = true;
    const cutting::Material& here = use_.context.material;
    const double d = use_.tool.diameter;
    const auto held = [&](const Sign& s) {
      if (!(s.limit > 0) || !(s.other_limit > s.limit)) return;
      if (s.value > 1.02 * s.other_limit + 0.05) fits = false;
      if (s.value > 1.02 * s.limit + 0.05) out.push_back(s);
    };
    const auto limits = use_.tool.limits_in.find(other.name);
    const bool own = limits != use_.tool.limits_in.end();
    const bool limited = use_.limits.axial_depth > 0;
    held({FindingKind::over_depth, depth_.first,
          limited ? use_.limits.axial_depth : here.depth_per_diameter * d,
          limited ? (own ? limits->second.axial_depth : 0) : other.depth_per_diameter * d, "mm",
          limited ? "deep" : "deep in a slot", depth_.second});
    const auto [least, most] = here.chip_per_mm_diameter;
    const double chip = chip_.first;
    if (chip > most && chip <= other.chip_per_mm_diameter.second)
      out.push_back({FindingKind::chip_thick, chip * d, most * d,
                     other.chip_per_mm_diameter.second * d, "mm", "a tooth", chip_.second});
    if (chip > 1.25 * other.chip_per_mm_diameter.second) fits = false;
    if (chip < thin_share * least && chip >= thin_share * other.chip_per_mm_diameter.first)
      out.push_back({FindingKind::chip_thin, chip * d, least * d,
                     other.chip_per_mm_diameter.first * d, "mm", "a tooth", chip_.second});
    if (!out.empty() && speed_.first > 1.1 * here.cutting_speed.second &&
        speed_.first <= other.cutting_speed.second)
      out.push_back({FindingKind::speed_clipped, speed_.first, here.cutting_speed.second,
                     other.cutting_speed.second, "m/min", "of cutting speed", speed_.second});
    if (!out.empty()) plunge(other, own ? &limits->second : nullptr, out);
    if (!fits) out.clear();
    return out;
  }

  void plunge(const cutting::Material& other, const job::ToolLimits* own,
              std::vector<Sign>& out) const {
    // Where the tool has a limit of its own in either material, it holds on ramps as well.
    if (own != nullptr && own->plunge_feed > 0 && use_.limits.plunge_feed > 0) {
      if (descent_.first > 1.02 * use_.limits.plunge_feed &&
          descent_.first <= 1.02 * own->plunge_feed)
        out.push_back({FindingKind::plunge, descent_.first, use_.limits.plunge_feed,
                       own->plunge_feed, "mm/min", "down", descent_.second});
      return;
    }
    if (!(plunge_.first > 0)) return;
    const nc::ModalState& state =
        use_.setup.source->states[use_.setup.source->motions[plunge_.second].state];
    const double rule = plunge_rule(use_.context.material, use_.tool, state.spindle_rpm);
    const double feed = plunge_.first * rule;
    const double limit = use_.limits.plunge_feed > 0 ? use_.limits.plunge_feed : rule;
    const double other_limit = own != nullptr && own->plunge_feed > 0
                                   ? own->plunge_feed
                                   : plunge_rule(other, use_.tool, state.spindle_rpm);
    if (feed > 1.02 * limit && feed <= 1.02 * other_limit)
      out.push_back({FindingKind::plunge, feed, limit, other_limit, "mm/min", "straight down",
                     plunge_.second});
  }

  OverTime chips_, speeds_, depths_;  // mm over diameter, m/min, mm, at steady engagement
  OverTime plunges_;                  // straight down: speed over the material's rule
  OverTime descents_;                 // mm/min down, on ramps too
  std::pair<double, std::size_t> chip_, speed_, depth_, plunge_, descent_;
  double before_ = 0;  // mm, depth of the sample before
};

}  // namespace

constinit const run::StartToolCheck other_material = run::start<OtherMaterial>;

}  // namespace proveout::checks
