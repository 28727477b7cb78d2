#include "sim/after/calibrate.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <unsupported/Eigen/NonLinearOptimization>
#include <unsupported/Eigen/NumericalDiff>

#include "sim/timing/plan.h"

namespace proveout::after {
namespace {

void set(Figure figure, double value, job::Machine& m) {
  switch (figure) {
    case Figure::acceleration:
      m.accel *= value / m.accel.x();
      break;
    case Figure::path_tolerance:
      m.path_tolerance = value;
      break;
    case Figure::rapid:
      m.rapid *= value / m.rapid.x();
      break;
    case Figure::tool_change:
      m.tool_change_s = value;
      break;
    case Figure::overhead:
      m.program_overhead_s = value;
      break;
    case Figure::spin_up:
      m.spindle.spin_up_s = value;
      break;
    case Figure::block_rate:
      m.block_rate = value;
      break;
  }
}

// Where a figure is 0 there is no factor to search: the search starts from a usual size (common
// practice, no source).
double starting_value(Figure figure, const job::Machine& machine) {
  const double value = value_of(figure, machine);
  if (value > 0) return value;
  switch (figure) {
    case Figure::path_tolerance:
      return 0.01;
    case Figure::block_rate:
      return 1000;
    default:
      return 3;
  }
}

// Start of the first motion of each logged line, in the log's order; NaN where the line has none.
std::vector<double> planned_starts(const nc::Program& program, const timing::Plan& plan,
                                   const std::vector<LoggedLine>& log) {
  std::vector<double> starts;
  std::size_t from = 0;
  for (const LoggedLine& l : log) {
    std::size_t i = from;
    while (i < program.motions.size() && program.motions[i].line != l.line) ++i;
    if (i == program.motions.size()) {
      starts.push_back(std::nan(""));
      continue;
    }
    starts.push_back(plan.motions[i].start_s);
    from = i;
  }
  return starts;
}

class Problem {
 public:
  Problem(const job::Machine& machine, std::span<const TimedRun> runs, const Options& options)
      : machine_(machine), runs_(runs), options_(options) {
    for (const Figure f : options.figures) start_.push_back(std::log(starting_value(f, machine)));
    Eigen::VectorXd r;
    residuals_ = 0;
    residuals_ = static_cast<int>(
        all(Eigen::VectorXd::Map(start_.data(), static_cast<int>(start_.size()))).size());
  }

  using Scalar = double;
  using InputType = Eigen::VectorXd;
  using ValueType = Eigen::VectorXd;
  using JacobianType = Eigen::MatrixXd;
  enum { InputsAtCompileTime = Eigen::Dynamic, ValuesAtCompileTime = Eigen::Dynamic };
  int inputs() const { return static_cast<int>(start_.size()); }
  int values() const { return residuals_; }
  int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& out) const {
    const std::vector<double> r = all(x);
    out = Eigen::VectorXd::Map(r.data(), static_cast<int>(r.size()));
    return 0;
  }
  // Central differences over a thousandth: a plan is smooth only piece by piece, so steps must not
  // be tiny.
  int df(const Eigen::VectorXd& x, Eigen::MatrixXd& jacobian) const {
    const double step = 1e-3;
    for (int k = 0; k < x.size(); ++k) {
      Eigen::VectorXd up = x, down = x, a, b;
      up[k] += step;
      down[k] -= step;
      (*this)(up, a);
      (*this)(down, b);
      jacobian.col(k) = (a - b) / (2 * step);
    }
    return 0;
  }

  job::Machine machine_at(const Eigen::VectorXd& x) const {
    job::Machine m = machine_;
    for (int k = 0; k < x.size(); ++k)
      set(options_.figures[k], std::exp(std::clamp(x[k], -20.0, 20.0)), m);
    return m;
  }
  Eigen::VectorXd start() const {
    return Eigen::VectorXd::Map(start_.data(), static_cast<int>(start_.size()));
  }
  double prior_sigma() const { return std::log(options_.prior_factor); }
  int evaluations() const { return evaluations_; }

 private:
  std::vector<double> all(const Eigen::VectorXd& x) const {
    std::vector<double> r;
    const job::Machine m = machine_at(x);
    for (const TimedRun& run : runs_) {
      job::Machine as_run = m;
      as_run.feed_override *= run.feed_override;
      as_run.rapid_override *= run.rapid_override;
      const timing::Plan plan = timing::plan(*run.program, as_run);
      ++evaluations_;
      if (run.measured_s > 0) {
        r.push_back((plan.time_s - run.measured_s) / run.measured_s / options_.expected_error);
      }
      log_residuals(run, plan, r);
    }
    // What was known beforehand.
    for (int k = 0; k < x.size(); ++k) r.push_back((x[k] - start_[k]) / prior_sigma());
    return r;
  }

  // Passages between logged lines, each against its own length and the log's coarseness.
  void log_residuals(const TimedRun& run, const timing::Plan& plan, std::vector<double>& r) const {
    if (run.log.size() < 3) return;
    const std::vector<double> starts = planned_starts(*run.program, plan, run.log);
    const double coarseness = 0.1;  // s: usual spacing of a log's rows (choice)
    for (std::size_t i = 1; i < run.log.size(); ++i) {
      const double planned = starts[i] - starts[i - 1];
      if (!std::isfinite(planned)) {
        r.push_back(0);
        continue;
      }
      const double seen = run.log[i].start_s - run.log[i - 1].start_s;
      r.push_back((planned - seen) / (coarseness + 0.1 * seen));
    }
    for (std::size_t i = 0; i < run.log.size(); ++i) {
      if (!(run.log[i].top_speed > 0)) continue;
      double fastest = 0;
      for (std::size_t k = 0; k < run.program->motions.size(); ++k) {
        if (run.program->motions[k].line == run.log[i].line) {
          fastest = std::max<double>(fastest, plan.motions[k].cruise_speed);
        }
      }
      const double error =
          fastest > 0 ? (fastest - run.log[i].top_speed) / run.log[i].top_speed : 0;
      r.push_back(std::clamp(error, -1.0, 1.0) / 0.1);
    }
  }

  job::Machine machine_;
  std::span<const TimedRun> runs_;
  const Options& options_;
  std::vector<double> start_;
  int residuals_ = 0;
  mutable int evaluations_ = 0;
};

void uncertainties(const Problem& problem, const Eigen::VectorXd& x, Calibration& out) {
  Eigen::MatrixXd jacobian(problem.values(), problem.inputs());
  problem.df(x, jacobian);
  const Eigen::MatrixXd covariance =
      (jacobian.transpose() * jacobian).ldlt().solve(Eigen::MatrixXd::Identity(x.size(), x.size()));
  for (int k = 0; k < x.size(); ++k) {
    const double sigma = std::sqrt(std::max(0.0, covariance(k, k)));
    out.fitted[k].factor = std::exp(sigma);
    out.fitted[k].told_by_data = sigma < 0.5 * problem.prior_sigma();
    for (int l = 0; l < k; ++l) {
      const double both = std::sqrt(covariance(k, k) * covariance(l, l));
      if (both > 0 && std::abs(covariance(k, l)) > 0.95 * both) {
        out.entangled.emplace_back(out.fitted[l].figure, out.fitted[k].figure);
      }
    }
  }
}

double planned_time(const TimedRun& run, job::Machine machine) {
  machine.feed_override *= run.feed_override;
  machine.rapid_override *= run.rapid_override;
  return timing::plan(*run.program, machine).time_s;
}

}  // namespace

const char* name(Figure figure) {
  switch (figure) {
    case Figure::acceleration:
      return "acceleration";
    case Figure::path_tolerance:
      return "path_tolerance";
    case Figure::rapid:
      return "rapid";
    case Figure::tool_change:
      return "tool_change";
    case Figure::overhead:
      return "overhead";
    case Figure::spin_up:
      return "spin_up";
    case Figure::block_rate:
      return "block_rate";
  }
  return "";
}

const char* unit(Figure figure) {
  switch (figure) {
    case Figure::acceleration:
      return "mm/s2 (x)";
    case Figure::path_tolerance:
      return "mm";
    case Figure::rapid:
      return "mm/min (x)";
    case Figure::block_rate:
      return "1/s";
    default:
      return "s";
  }
}

double value_of(Figure figure, const job::Machine& m) {
  switch (figure) {
    case Figure::acceleration:
      return m.accel.x();
    case Figure::path_tolerance:
      return m.path_tolerance;
    case Figure::rapid:
      return m.rapid.x();
    case Figure::tool_change:
      return m.tool_change_s;
    case Figure::overhead:
      return m.program_overhead_s;
    case Figure::spin_up:
      return m.spindle.spin_up_s;
    case Figure::block_rate:
      return m.block_rate;
  }
  return 0;
}

Calibration fit(const job::Machine& machine, std::span<const TimedRun> runs,
                const Options& options) {
  Calibration out;
  const Problem problem(machine, runs, options);
  Eigen::VectorXd x = problem.start();
  Eigen::LevenbergMarquardt<const Problem> solver(problem);
  solver.parameters.maxfev = 60;
  solver.parameters.xtol = 1e-6;
  solver.parameters.ftol = 1e-9;
  if (x.size() > 0) solver.minimize(x);
  out.machine = problem.machine_at(x);
  for (const Figure f : options.figures) {
    Fitted one;
    one.figure = f;
    one.before = value_of(f, machine);
    one.after = value_of(f, out.machine);
    out.fitted.push_back(one);
  }
  if (x.size() > 0) uncertainties(problem, x, out);
  for (const TimedRun& run : runs) {
    if (!(run.measured_s > 0)) continue;
    out.residuals.push_back(
        {run.name, run.measured_s, planned_time(run, machine), planned_time(run, out.machine)});
  }
  out.evaluations = problem.evaluations();
  return out;
}

std::string machine_file(const job::Machine& m, const std::string& note) {
  std::string text;
  for (std::size_t at = 0; at < note.size();) {
    const std::size_t end = std::min(note.find('\n', at), note.size());
    text += "# " + note.substr(at, end - at) + "\n";
    at = end + 1;
  }
  const auto point = [](const Vec3& p) {
    return fmt::format("[{:.6g}, {:.6g}, {:.6g}]", p.x(), p.y(), p.z());
  };
  std::string name;
  for (const char c : m.name) {
    if (c == '"' || c == '\\') name += '\\';
    if (static_cast<unsigned char>(c) >= 32) name += c;
  }
  text += "units = \"mm\"\n";
  if (!name.empty()) text += fmt::format("name = \"{}\"\n", name);
  if (m.travel) text += fmt::format("travel = {}\n", point(*m.travel));
  text += fmt::format("max_feed = {}\nrapid = {}\naccel = {}\n", point(m.max_feed), point(m.rapid),
                      point(m.accel));
  if ((m.jerk.array() > 0).any()) text += fmt::format("jerk = {}\n", point(m.jerk));
  text += fmt::format("path_tolerance = {:.6g}\nlookahead = {}\n", m.path_tolerance, m.lookahead);
  if (m.block_rate > 0) text += fmt::format("block_rate = {:.6g}\n", m.block_rate);
  if (m.rapid_by_axis) text += "rapid_path = \"by-axis\"\n";
  text += fmt::format("tool_change_s = {:.6g}\nprogram_overhead_s = {:.6g}\n", m.tool_change_s,
                      m.program_overhead_s);
  if (m.feed_override != 1) text += fmt::format("feed_override = {:.6g}\n", m.feed_override);
  if (m.rapid_override != 1) text += fmt::format("rapid_override = {:.6g}\n", m.rapid_override);
  text += fmt::format("start = {}\n\n[spindle]\n", point(m.start));
  if (m.spindle.min_rpm > 0) text += fmt::format("min_rpm = {:.6g}\n", m.spindle.min_rpm);
  if (m.spindle.max_rpm > 0) text += fmt::format("max_rpm = {:.6g}\n", m.spindle.max_rpm);
  if (m.spindle.power_w > 0) text += fmt::format("power_w = {:.6g}\n", m.spindle.power_w);
  if (m.spindle.rated_rpm > 0) text += fmt::format("rated_rpm = {:.6g}\n", m.spindle.rated_rpm);
  text += fmt::format("efficiency = {:.6g}\nspin_up_s = {:.6g}\n", m.spindle.efficiency,
                      m.spindle.spin_up_s);
  return text;
}

}  // namespace proveout::after
