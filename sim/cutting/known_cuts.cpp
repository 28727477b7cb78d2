#include "sim/cutting/known_cuts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/cutting/beam.h"

namespace proveout::cutting {
namespace {

constexpr int grid = 2000;
constexpr double prior_median = 4, prior_factor = 3.2;

double normal(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }

// The arc of a cut so wide, deg: as climb, which side it lies on changes b0 little.
std::pair<double, double> arc_of(double width, double diameter) {
  if (!(width > 0) || width >= diameter) return {-90, 90};
  return {-90, -90 + std::acos(1 - 2 * width / diameter) * deg_per_rad};
}

}  // namespace

const double MachineFactor::spread = std::log(1.5);

MachineFactor::MachineFactor() {
  const double sd = std::log(prior_factor);
  double sum = 0;
  for (int i = 0; i < grid; ++i) {
    const double z = -5 + 10 * (i + 0.5) / grid;
    log_factor_.push_back(std::log(prior_median) + sd * z);
    weight_.push_back(std::exp(-0.5 * z * z));
    sum += weight_.back();
  }
  for (double& w : weight_) w /= sum;
}

void MachineFactor::hear(double least_limit, double depth, bool sings) {
  double sum = 0;
  std::vector<double> heard(weight_.size());
  for (std::size_t i = 0; i < weight_.size(); ++i) {
    const double quiet = normal((log_factor_[i] + std::log(least_limit / depth)) / spread);
    heard[i] = weight_[i] * (sings ? 1 - quiet : quiet);
    sum += heard[i];
  }
  // Heard what cannot be by any factor: nothing is learned of it.
  if (!(sum > 1e-200)) return;
  for (std::size_t i = 0; i < weight_.size(); ++i) weight_[i] = heard[i] / sum;
}

double MachineFactor::sings(double least_limit, double depth, bool same_tool) const {
  const double sigma = spread * (same_tool ? 1 : std::numbers::sqrt2);
  double sum = 0;
  for (std::size_t i = 0; i < weight_.size(); ++i)
    sum += weight_[i] * (1 - normal((log_factor_[i] + std::log(least_limit / depth)) / sigma));
  return sum;
}

double MachineFactor::limit_quantile(double least_limit, double probability) const {
  double sum = 0;
  for (std::size_t i = 0; i < weight_.size(); ++i) {
    sum += weight_[i];
    if (sum >= probability) return least_limit * std::exp(log_factor_[i]);
  }
  return least_limit * std::exp(log_factor_.back());
}

KnownCuts::KnownCuts(const job::Job& job, const job::Tool& tool, const Material& material)
    : tool_(tool), material_(material.name) {
  for (const job::KnownCut& cut : job.machine.known_cuts) {
    const auto at = std::find_if(job.tools.begin(), job.tools.end(),
                                 [&](const job::Tool& t) { return t.number == cut.tool; });
    const std::string what = cut.material.empty() ? job.stock.material : cut.material;
    const auto cut_in = find_material(what, job.materials);
    if (at == job.tools.end() || !cut_in || !cut_in->cuttable) {
      unused_.push_back(fmt::format(
          "the known cut with T{} in {}: {}", cut.tool, what,
          at == job.tools.end() ? "no such tool in the job" : "no such material that can be cut"));
      continue;
    }
    Used used;
    used.cut = cut;
    used.cut.material = what;
    used.tool = &*at;
    job::Tool then = *at;
    if (cut.stickout > 0) {
      then.stickout = cut.stickout;
      then.flute_length = std::min(then.flute_length, cut.stickout);
    }
    used.stickout = then.stickout;
    used.same_tool = at->number == tool.number && std::abs(then.stickout - tool.stickout) < 0.5;
    const auto [from, to] = arc_of(cut.width, at->diameter);
    used.least_limit = LoadModel(then, *cut_in).least_limit_depth_mm(from, to, true);
    const double clamped = beam_of(then).tip_modes(1).front().frequency;
    const bool of_tool = cut.pitch_hz >= 0.4 * clamped && cut.pitch_hz <= clamped;
    used.of_frame = cut.sings && cut.pitch_hz >= 100 && cut.pitch_hz <= 800 && !of_tool;
    if (cut.sings && of_tool && used.same_tool) tool_pitch_ = cut.pitch_hz;
    // A frame's limit does not know the stick-out: only teeth, arc and material change it.
    if (used.of_frame) {
      job::Tool frame = then;
      frame.flutes = tool.flutes;
      used.frame_limit = LoadModel(frame, material).least_limit_depth_mm(-90, 90, true);
    }
    used_.push_back(used);
    same_tool_ = same_tool_ || used.same_tool;
  }
  for (const Used& u : used_) {
    if (u.least_limit > 0 && u.least_limit < ZeroOrder::no_limit)
      factor_.hear(u.least_limit, u.cut.depth, u.cut.sings);
  }
}

std::string KnownCuts::listed() const {
  std::string out;
  for (const Used& u : used_) {
    out += fmt::format("{}T{} {:g} mm deep{} at S{:.0f}, {}", out.empty() ? "" : "; ", u.cut.tool,
                       u.cut.depth, u.cut.width > 0 ? fmt::format(", {:g} wide", u.cut.width) : "",
                       u.cut.rpm, u.cut.sings ? "sings" : "quiet");
  }
  return out;
}

bool KnownCuts::known_quiet(const AskedCut& cut) const {
  return std::any_of(used_.begin(), used_.end(), [&](const Used& u) {
    const double width = u.cut.width > 0 ? u.cut.width : u.tool->diameter;
    return !u.cut.sings && u.cut.material == material_ && u.tool->flutes == tool_.flutes &&
           u.tool->tool_material == tool_.tool_material &&
           std::abs(cut.rpm - u.cut.rpm) <= 0.01 * u.cut.rpm &&
           cut.depth <= 1.01 * u.cut.depth + 0.02 && cut.width <= 1.01 * width + 0.02 &&
           tool_.stickout <= u.stickout + 0.01 && tool_.diameter >= u.tool->diameter - 1e-6 &&
           tool_.flute_length <= u.tool->flute_length + 0.01;
  });
}

double KnownCuts::sings(const AskedCut& cut, double least_limit) const {
  if (!(least_limit > 0) || least_limit >= ZeroOrder::no_limit || !(cut.depth > 0)) return 0;
  double most = factor_.sings(least_limit, cut.depth, same_tool_);
  // Where the frame itself was heard, a short stiff tool does not help.
  for (const Used& u : used_) {
    if (!u.of_frame || !(u.frame_limit > 0)) continue;
    const double share =
        u.cut.depth / u.least_limit * u.frame_limit;  // where it sang, for this tool
    const double arc = std::clamp((cut.arc_to - cut.arc_from) / 180, 0.05, 1.0);
    most = std::max(most, 1 - normal(std::log(share / (cut.depth * arc)) / MachineFactor::spread));
  }
  return most;
}

Band KnownCuts::limit_depth(double least_limit) const {
  return {factor_.limit_quantile(least_limit, 0.1), factor_.limit_quantile(least_limit, 0.5),
          factor_.limit_quantile(least_limit, 0.9)};
}

}  // namespace proveout::cutting
