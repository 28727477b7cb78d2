#include "sim/after/retime.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>
#include <set>
#include <utility>

#include "parser/job/tool_shape.h"
#include "sim/checks/cut_limits.h"
#include "sim/cutting/load.h"
#include "sim/run/inputs.h"
#include "sim/stock/on_threads.h"
#include "sim/timing/limits.h"

namespace proveout::after {
namespace {

constexpr double bend_limit_mm = 0.05;  // as the run's findings have it
constexpr double least_feed = 1;        // mm/min: none slower is looked for (choice)

struct ToolModel {
  const job::Tool* tool = nullptr;
  std::unique_ptr<cutting::LoadModel> model;
};

// What one sample of a cut met.
struct Met {
  Met(const run::SetupResult& s, std::size_t number, const ToolModel& model)
      : sample(s.cut.samples[number]),
        area(cutting::area_of(sample, s.cut.extents, model.model->profile())),
        rate_scale(number < s.rate_scale.size() ? s.rate_scale[number] : 1) {}
  const stock::EngagementSample& sample;
  cutting::EngagedArea area;
  double rate_scale;
};

class Retimer {
 public:
  Retimer(const run::JobResult& result, const cutting::Material& material, bool only_faster,
          double of_chip_range = 1, const Retimed* at_most = nullptr)
      : result_(result),
        material_(material),
        only_faster_(only_faster),
        at_most_(at_most),
        chip_per_mm_((1 - of_chip_range) * material.chip_per_mm_diameter.first +
                     of_chip_range * material.chip_per_mm_diameter.second) {
    for (const job::Tool& t : result.job.tools) {
      models_[t.number] = {&t, std::make_unique<cutting::LoadModel>(
                                   t, material, cutting::machine_give_of(result.job.machine))};
    }
    axes_alone_.accel = Vec3::Constant(1e12);
    axes_alone_.block_rate = 0;
  }

  Retimed go() {
    Retimed out;
    out.material = material_.name;
    out.own_time_s = result_.time_s;
    for (const run::SetupResult& s : result_.setups) {
      out.setups.push_back(only_faster_ ? faster(s, out.bound_s) : one(s, out.bound_s));
      out.time_s += out.setups.back().time_s + out.setups.back().extra_passes_s;
    }
    return out;
  }

 private:
  // Calls act(i) for each of so many motions, on as many threads as the run had.
  template <class Act>
  void over_motions(std::size_t motions, const Act& act) const {
    stock::on_threads(result_.run.threads,
                      [&] { tbb::parallel_for(std::size_t{0}, motions, act); });
  }

  // The spindle speed nearest to the middle of the material's range, within the spindle's.
  double rpm_for(const job::Tool& t) const {
    const double middle = 0.5 * (material_.cutting_speed.first + material_.cutting_speed.second);
    double rpm = 1000 * middle / (pi * t.diameter);
    rpm = std::round(rpm / 10) * 10;
    const job::Spindle& s = result_.job.machine.spindle;
    if (s.max_rpm > 0) rpm = std::min(rpm, std::floor(s.max_rpm));
    if (s.min_rpm > 0) rpm = std::max(rpm, std::ceil(s.min_rpm));
    return rpm;
  }

  // Tools that some time turn backwards are taken for taps: their feed is the thread's pitch times
  // their speed, so both stay.
  static std::set<int> taps(const nc::Program& program) {
    std::set<int> out;
    for (const nc::Event& e : program.events) {
      const nc::ModalState& state = program.states[e.state];
      if (e.kind == nc::EventKind::spindle && state.turn == nc::SpindleTurn::counter_clockwise)
        out.insert(state.tool);
    }
    return out;
  }

  // The fastest feed the axes allow along the motion, and where it goes down, at most the tool's
  // plunge limit downwards, straight down the material's rule where it has none; mm/min.
  double fastest(const nc::Motion& m, const stock::MotionOutcome& outcome,
                 const std::vector<stock::EngagementSample>& samples, const job::Tool& tool,
                 double rpm, Binding& binding) const {
    const double length = nc::length(m);
    if (!(length > 0)) return m.feed;
    binding = Binding::machine_feed;
    double most = timing::limits_of(m, length, axes_alone_).speed * 60 / axes_alone_.feed_override;
    const double declared = tool.limits_for(material_.name).plunge_feed;
    const double rule = job::mills(tool) ? checks::plunge_rule(material_, tool, rpm) : 0;
    if (!(declared > 0) && !(rule > 0)) return most;
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const double at = std::clamp(samples[outcome.first_sample + k].along / length, 0.0, 1.0);
      const double down = -nc::tangent_at(m, at).z();
      const double limit = declared > 0 ? declared : down >= checks::straight_down ? rule : 0;
      if (!(limit > 0) || down * most <= limit) continue;
      most = limit / down;
      binding = Binding::plunge;
    }
    return most;
  }

  // Greatest feed at which a sample stays within chip, power and bend; each grows with the feed,
  // and the edge's share of power and bend stays whatever the feed.
  double feed_for(const ToolModel& m, const cutting::EngagedArea& area, double descent,
                  double rate_scale, double rpm, double most, Binding& binding) const {
    const double chip = chip_per_mm_ * m.tool->diameter;
    const job::Spindle& sp = result_.job.machine.spindle;
    const double rated = sp.rated_rpm > 0 ? sp.rated_rpm : sp.max_rpm;
    const double power =
        sp.power_w > 0 ? sp.power_w * sp.efficiency * (rated > 0 ? std::min(1.0, rpm / rated) : 1)
                       : 1e30;
    // How far a feed is beyond what it may be, the worst of the three; at most 1: within all.
    const auto beyond = [&](double feed) {
      const cutting::CutLoad l = m.model->at(area, {feed, rpm, true, descent}, rate_scale);
      const std::pair<double, Binding> shares[] = {{l.chip_mm / chip, Binding::chip},
                                                   {l.power_w.likely / power, Binding::power},
                                                   {l.bend_mm / bend_limit_mm, Binding::bend}};
      return *std::max_element(std::begin(shares), std::end(shares),
                               [](const auto& a, const auto& b) { return a.first < b.first; });
    };
    auto worst = beyond(most);
    if (worst.first <= 1) return most;
    // Loads grow with the feed, by which power of it is the model's matter: steps along a line in
    // logarithms, kept between a feed beyond and one within; what is given back was tried.
    double low = std::min(most, least_feed), high = most, at = most, share = worst.first,
           power_of = 1;
    for (int round = 0; round < 40 && high > 1.002 * low; ++round) {
      double next = at * std::pow(1.001 * share, -1 / power_of);
      if (!(next > low && next < high) || round > 10) next = std::sqrt(low * high);
      const auto there = beyond(next);
      (there.first > 1 ? high : low) = next;
      if (there.first > 1) worst = there;
      if (there.first <= 1 && there.first > 0.995) break;
      power_of = std::clamp(std::log(there.first / share) / std::log(next / at), 0.05, 5.0);
      at = next;
      share = there.first;
    }
    binding = worst.second;
    return low;
  }

  // A sample made by hand that goes all round its tool is a plunge.
  static double way_down(const nc::Motion& m, const stock::EngagementSample& sample) {
    return sample.columns == 0 && sample.arc_to - sample.arc_from > 180.5f
               ? pi / 2
               : cutting::descent_of(m, static_cast<double>(sample.along));
  }

  double most_of(const run::SetupResult& s, std::size_t i) const {
    if (at_most_ == nullptr) return std::numeric_limits<double>::infinity();
    const auto setup = static_cast<std::size_t>(&s - result_.setups.data());
    return at_most_->setups[setup].feed[i];
  }

  // As programmed, or faster up to what binds, at this spindle speed.
  double faster_feed(const run::SetupResult& s, std::size_t i, const ToolModel& model, double rpm,
                     Binding& binding) const {
    const nc::Motion& m = s.source->motions[i];
    const stock::MotionOutcome& outcome = s.cut.motions[i];
    const double most = most_of(s, i);
    if (most <= m.feed) return m.feed;
    double feed = std::min(most, fastest(m, outcome, s.cut.samples, *model.tool, rpm, binding));
    const double by_tooth =
        chip_per_mm_ * model.tool->diameter * std::max(1, model.tool->flutes) * rpm;
    if (by_tooth < feed) {
      feed = by_tooth;
      binding = Binding::chip;
    }
    for (std::uint32_t k = 0; k < outcome.sample_count && feed > m.feed; ++k) {
      const Met met(s, outcome.first_sample + k, model);
      feed = feed_for(model, met.area, way_down(m, met.sample), met.rate_scale, rpm, feed, binding);
    }
    if (feed > 5) feed = std::floor(feed / 5) * 5;
    return std::max(feed, m.feed);
  }

  // A line that runs more than once has one F word: what the most loaded of its runs may have.
  // Where it runs under several feeds none is raised beyond the least of what they may be.
  static void share_lines(const nc::Program& as_it_is, nc::Program& faster) {
    struct Shared {
      double by = std::numeric_limits<double>::infinity(), feed = by;
    };
    std::map<std::pair<std::uint32_t, std::uint32_t>, Shared> lines;
    const auto each = [&](const auto& act) {
      for (std::size_t i = 0; i < faster.motions.size(); ++i) {
        nc::Motion& m = faster.motions[i];
        const double was = as_it_is.motions[i].feed;
        if (m.kind != nc::PathKind::rapid && was > 0) act(lines[{m.file, m.line}], m, was);
      }
    };
    each([](Shared& of, const nc::Motion& m, double was) {
      of.by = std::min(of.by, m.feed / was);
      of.feed = std::min(of.feed, m.feed);
    });
    each([](const Shared& of, nc::Motion& m, double was) {
      m.feed = std::max(was, std::min(was * of.by, of.feed));
    });
  }

  RetimedSetup faster(const run::SetupResult& s, std::array<double, 7>& bound) const {
    RetimedSetup out;
    out.name = s.name;
    nc::Program copy = *s.source;
    const std::set<int> tapping = taps(copy);
    const std::size_t motions = copy.motions.size();
    out.binding.resize(motions);
    out.rpm.resize(motions);
    over_motions(motions, [&](std::size_t i) {
      nc::Motion& m = copy.motions[i];
      const nc::ModalState& state = copy.states[m.state];
      const auto model = models_.find(state.tool);
      Binding binding = Binding::as_programmed;
      if (m.kind != nc::PathKind::rapid && s.cut.motions[i].sample_count > 0 &&
          model != models_.end() && job::mills(*model->second.tool) && state.spindle_rpm > 0 &&
          !tapping.contains(state.tool))
        m.feed = faster_feed(s, i, model->second, state.spindle_rpm, binding);
      out.binding[i] = binding;
      out.rpm[i] = state.spindle_rpm;
    });
    share_lines(*s.source, copy);
    for (const nc::Motion& m : copy.motions)
      out.feed.push_back(m.kind == nc::PathKind::rapid ? 0 : m.feed);
    const timing::Plan plan = timing::plan(copy, result_.job.machine);
    out.time_s = plan.time_s;
    for (std::size_t i = 0; i < copy.motions.size(); ++i) {
      if (copy.motions[i].kind != nc::PathKind::rapid)
        bound[static_cast<std::size_t>(out.binding[i])] += plan.motions[i].time_s;
    }
    return out;
  }

  // What a motion may have in the material, taps apart.
  struct Own {
    double feed = 0, rpm = 0, passes = 1;
    Binding binding = Binding::as_programmed;
  };
  Own own_feed(const run::SetupResult& s, std::size_t i, bool taps) const {
    const nc::Motion& m = s.source->motions[i];
    const nc::ModalState& state = s.source->states[m.state];
    Own out{m.feed, state.spindle_rpm};
    const auto model = models_.find(state.tool);
    if (m.kind == nc::PathKind::rapid) out.feed = 0;
    if (m.kind == nc::PathKind::rapid || model == models_.end() || taps) return out;
    const job::Tool& tool = *model->second.tool;
    out.rpm = rpm_for(tool);
    const stock::MotionOutcome& outcome = s.cut.motions[i];
    Binding binding = Binding::as_programmed;
    const double most = fastest(m, outcome, s.cut.samples, tool, out.rpm, binding);
    if (outcome.sample_count > 0) {
      out.binding = binding;
      feed_in_cut(s, i, model->second, most, out);
    } else if (out.feed > most) {
      // In air the programmed feed stays, as far as the axes can do it.
      out.feed = most > 5 ? std::floor(most / 5) * 5 : most;
      out.binding = binding;
    }
    return out;
  }

  // Of a motion that meets material, for which the axes allow `most`: what its samples leave of
  // that, and how many passes its depth takes.
  void feed_in_cut(const run::SetupResult& s, std::size_t i, const ToolModel& model, double most,
                   Own& out) const {
    const nc::Motion& m = s.source->motions[i];
    const stock::MotionOutcome& outcome = s.cut.motions[i];
    const Binding of_axes = out.binding;
    out.feed = most;
    double deepest = 0;
    for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
      const Met met(s, outcome.first_sample + k, model);
      Binding b = of_axes;
      const double f =
          feed_for(model, met.area, way_down(m, met.sample), met.rate_scale, out.rpm, most, b);
      if (f < out.feed) {
        out.feed = f;
        out.binding = b;
      }
      if (met.sample.arc > 60) {
        deepest = std::max(deepest, std::min<double>(met.sample.axial_depth,
                                                     cutting::depth_over_arc(
                                                         met.area, model.model->profile(), 60)));
      }
    }
    const double rule = material_.depth_per_diameter * model.tool->diameter;
    if (rule > 0 && deepest > rule * 1.02) out.passes = std::ceil(deepest / rule);
    if (out.feed > 5) out.feed = std::floor(out.feed / 5) * 5;
  }

  RetimedSetup one(const run::SetupResult& s, std::array<double, 7>& bound) const {
    RetimedSetup out;
    out.name = s.name;
    const nc::Program& program = *s.source;
    nc::Program copy = program;
    std::vector<double> passes(program.motions.size());
    const std::set<int> tapping = taps(program);
    out.feed.resize(passes.size());
    out.binding.resize(passes.size());
    out.rpm.resize(passes.size());
    over_motions(passes.size(), [&](std::size_t i) {
      const nc::Motion& m = program.motions[i];
      const Own own = own_feed(s, i, tapping.contains(program.states[m.state].tool));
      passes[i] = own.passes;
      copy.motions[i].feed = out.feed[i] = own.feed;
      out.binding[i] = own.binding;
      out.rpm[i] = own.rpm;
    });
    const timing::Plan plan = timing::plan(copy, result_.job.machine);
    out.time_s = plan.time_s;
    for (std::size_t i = 0; i < passes.size(); ++i) {
      const double t = plan.motions[i].time_s;
      if (copy.motions[i].kind != nc::PathKind::rapid)
        bound[static_cast<std::size_t>(out.binding[i])] += t;
      if (passes[i] > 1) {
        out.extra_passes_s += (passes[i] - 1) * t;
        ++out.motions_with_passes;
      }
    }
    return out;
  }

  const run::JobResult& result_;
  const cutting::Material& material_;
  bool only_faster_ = false;
  const Retimed* at_most_ = nullptr;  // no feed is raised beyond these
  double chip_per_mm_ = 0;            // mm of chip a mm of diameter, the greatest a tooth may get
  std::map<int, ToolModel> models_;
  job::Machine axes_alone_ = result_.job.machine;  // no acceleration or block rate binds
};

}  // namespace

std::string_view name(Binding b) {
  switch (b) {
    case Binding::chip:
      return "chip";
    case Binding::cutting_speed:
      return "cutting speed";
    case Binding::power:
      return "power";
    case Binding::bend:
      return "bend";
    case Binding::machine_feed:
      return "machine feed";
    case Binding::plunge:
      return "plunge limit";
    case Binding::as_programmed:
      break;
  }
  return "as programmed (air)";
}

Retimed retime(const run::JobResult& result, const cutting::Material& material) {
  return Retimer(result, material, false).go();
}

Retimed retime_faster(const run::JobResult& result) {
  if (!result.inputs) return {};
  return Retimer(result, result.inputs->material, true).go();
}

Retimed retime_faster(const run::JobResult& result, const Retimed& faster, double of_chip_range) {
  if (!result.inputs) return {};
  return Retimer(result, result.inputs->material, true, of_chip_range, &faster).go();
}

}  // namespace proveout::after
