#include "sim/after/retime.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "sim/cutting/load.h"

namespace proveout::after {
namespace {

constexpr double bend_limit_mm = 0.05;  // as the run's findings have it

struct ToolModel {
  const job::Tool* tool = nullptr;
  std::unique_ptr<cutting::LoadModel> model;
};

class Retimer {
 public:
  Retimer(const run::JobResult& result, const cutting::Material& material)
      : result_(result), material_(material) {
    for (const job::Tool& t : result.job.tools) {
      models_[t.number] = {&t, std::make_unique<cutting::LoadModel>(t, material)};
    }
  }

  Retimed go() {
    Retimed out;
    out.material = material_.name;
    out.own_time_s = result_.time_s;
    for (const run::SetupResult& s : result_.setups) {
      out.setups.push_back(one(s, out.bound_s));
      out.time_s += out.setups.back().time_s + out.setups.back().extra_passes_s;
    }
    return out;
  }

 private:
  // The spindle speed nearest to the middle of the material's range, within the spindle's.
  double rpm_for(const job::Tool& t) const {
    const double middle = 0.5 * (material_.cutting_speed.first + material_.cutting_speed.second);
    double rpm = 1000 * middle / (pi * t.diameter);
    const job::Spindle& s = result_.job.machine.spindle;
    if (s.max_rpm > 0) rpm = std::min(rpm, s.max_rpm);
    if (s.min_rpm > 0) rpm = std::max(rpm, s.min_rpm);
    return std::round(rpm / 10) * 10;
  }

  // Greatest feed at which this sample stays within chip, power and bend; each grows with the feed.
  double feed_for(const ToolModel& m, const stock::EngagementSample& s, double rpm, double most,
                  Binding& binding) const {
    const double chip = material_.chip_per_mm_diameter.second * m.tool->diameter;
    const job::Spindle& sp = result_.job.machine.spindle;
    const double rated = sp.rated_rpm > 0 ? sp.rated_rpm : sp.max_rpm;
    const double power =
        sp.power_w > 0 ? sp.power_w * sp.efficiency * (rated > 0 ? std::min(1.0, rpm / rated) : 1)
                       : 1e30;
    const cutting::CutLoad l = m.model->at(s, most, rpm, true);
    // The chip grows with the feed, power and force with its power 1 - mc (the specific force falls
    // with the chip).
    const double gain = std::max(0.05, 1 - material_.mc);
    const auto allowed = [&](double value, double limit, double exponent) {
      return value > limit ? most * std::pow(limit / value, 1 / exponent) : most;
    };
    const std::pair<double, Binding> feeds[] = {
        {allowed(l.chip_mm, chip, 1), Binding::chip},
        {allowed(l.power_w, power, gain), Binding::power},
        {allowed(l.bend_mm, bend_limit_mm, gain), Binding::bend}};
    const auto least =
        *std::min_element(std::begin(feeds), std::end(feeds),
                          [](const auto& a, const auto& b) { return a.first < b.first; });
    if (least.first < most) binding = least.second;
    return std::max(least.first, std::min(most, 1.0));
  }

  RetimedSetup one(const run::SetupResult& s, std::array<double, 6>& bound) const {
    RetimedSetup out;
    out.name = s.name;
    const nc::Program& program = *s.source;
    nc::Program copy = program;
    std::vector<double> passes(program.motions.size(), 1);
    for (std::size_t i = 0; i < program.motions.size(); ++i) {
      const nc::Motion& m = program.motions[i];
      const auto model = models_.find(program.states[m.state].tool);
      Binding binding = Binding::as_programmed;
      double feed = m.feed, rpm = program.states[m.state].spindle_rpm;
      const stock::MotionOutcome& outcome = s.cut.motions[i];
      if (m.kind != nc::PathKind::rapid && model != models_.end()) {
        rpm = rpm_for(*model->second.tool);
        if (outcome.sample_count > 0) {
          const double most = result_.job.machine.max_feed.maxCoeff();
          feed = most;
          binding = Binding::machine_feed;
          double deepest = 0;
          for (std::uint32_t k = 0; k < outcome.sample_count; ++k) {
            const auto& sample = s.cut.samples[outcome.first_sample + k];
            Binding b = binding;
            const double f = feed_for(model->second, sample, rpm, most, b);
            if (f < feed) {
              feed = f;
              binding = b;
            }
            if (sample.arc > 60) deepest = std::max<double>(deepest, sample.axial_depth);
          }
          const double rule = material_.depth_per_diameter * model->second.tool->diameter;
          if (rule > 0 && deepest > rule * 1.02) passes[i] = std::ceil(deepest / rule);
          feed = std::max(1.0, std::floor(feed / 5) * 5);
        }
      }
      copy.motions[i].feed = m.kind == nc::PathKind::rapid ? 0 : feed;
      out.feed.push_back(copy.motions[i].feed);
      out.binding.push_back(binding);
      out.rpm.push_back(rpm);
    }
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
  std::map<int, ToolModel> models_;
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
    case Binding::as_programmed:
      break;
  }
  return "as programmed (air)";
}

Retimed retime(const run::JobResult& result, const cutting::Material& material) {
  return Retimer(result, material).go();
}

namespace {

// The place of a word's number on a line outside comments; npos: none.
std::size_t find_word(std::string_view line, char letter, std::size_t& end) {
  bool comment = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (c == '(')
      comment = true;
    else if (c == ')')
      comment = false;
    else if (c == ';' && !comment)
      break;
    else if (!comment && (c == letter || c == letter + 32)) {
      end = i + 1;
      while (end < line.size() && (std::isdigit(static_cast<unsigned char>(line[end])) ||
                                   line[end] == '.' || line[end] == ' ' || line[end] == '\t')) {
        ++end;
      }
      while (end > i + 1 && (line[end - 1] == ' ' || line[end - 1] == '\t')) --end;
      return i;
    }
  }
  return std::string_view::npos;
}

}  // namespace

std::string with_feeds(std::string_view text, const nc::Program& program,
                       const RetimedSetup& feeds) {
  // The feed each line is to have: that of its slowest motion (a cycle's line makes several).
  std::map<std::uint32_t, double> feed_of, rpm_of;
  for (std::size_t i = 0; i < program.motions.size(); ++i) {
    const nc::Motion& m = program.motions[i];
    if (m.kind == nc::PathKind::rapid) continue;
    const auto [place, is_new] = feed_of.try_emplace(m.line, feeds.feed[i]);
    if (!is_new) place->second = std::min(place->second, feeds.feed[i]);
  }
  for (const nc::Event& e : program.events) {
    if (e.kind != nc::EventKind::spindle ||
        program.states[e.state].turn == nc::SpindleTurn::stopped)
      continue;
    if (e.before_motion < feeds.rpm.size()) {
      for (std::size_t i = static_cast<std::size_t>(e.before_motion); i < feeds.rpm.size(); ++i) {
        if (program.motions[i].kind == nc::PathKind::rapid) continue;
        rpm_of[e.line] = feeds.rpm[i];
        break;
      }
    }
  }
  std::string out;
  out.reserve(text.size() + text.size() / 4);
  double in_force = -1;
  std::uint32_t line_number = 0;
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = text.find('\n', at);
    if (end == std::string_view::npos) end = text.size();
    std::string line(text.substr(at, end - at));
    ++line_number;
    const auto change = [&](char letter, double value) {
      std::size_t stop = 0;
      const std::size_t start = find_word(line, letter, stop);
      const std::string word = fmt::format("{}{:.0f}", letter, value);
      if (start != std::string::npos) {
        line.replace(start, stop - start, word);
        return;
      }
      std::size_t place = line.find_first_of("(;");
      if (place == std::string::npos) place = line.size();
      while (place > 0 && (line[place - 1] == '\r' || line[place - 1] == ' ')) --place;
      line.insert(place, " " + word);
    };
    if (const auto rpm = rpm_of.find(line_number); rpm != rpm_of.end()) {
      std::size_t stop = 0;
      if (find_word(line, 'S', stop) != std::string::npos) change('S', rpm->second);
    }
    const auto feed = feed_of.find(line_number);
    std::size_t stop = 0;
    const bool has_feed = find_word(line, 'F', stop) != std::string::npos;
    if (feed != feed_of.end() && (has_feed || feed->second != in_force)) {
      change('F', feed->second);
      in_force = feed->second;
    }
    out += line;
    if (end < text.size()) out += '\n';
    at = end + 1;
  }
  return out;
}

}  // namespace proveout::after
