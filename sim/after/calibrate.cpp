#include "sim/after/calibrate.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "sim/after/calibration_problem.h"
#include "sim/after/figures.h"
#include "sim/timing/plan.h"
#include "sim/timing/range.h"

namespace proveout::after {
namespace {

// Standard deviation of a run's error over what is expected: from each run's error as the others
// predict it, over the standard deviation of that prediction. In linear least squares both follow
// from one fit: with h the run's own share in its prediction, error / sqrt(1 - h) has deviation 1
// (studentized residuals: Cook and Weisberg, "Residuals and Influence in Regression", chapter 2).
// Runs are few: what was expected counts as some more (a scaled inverse chi-square prior).
double scatter_of(const CalibrationProblem& problem, const Eigen::VectorXd& errors,
                  const Eigen::MatrixXd& jacobian, const Eigen::MatrixXd& covariance) {
  constexpr double runs_expected = 4;  // choice
  double sum = runs_expected, runs = runs_expected;
  for (const int k : problem.of_runs()) {
    const double own = jacobian.row(k) * covariance * jacobian.row(k).transpose();
    sum += errors[k] * errors[k] / std::max(1e-3, 1 - own);
    ++runs;
  }
  return std::max(1.0, std::sqrt(sum / runs));
}

// What the runs leave open: covariance of the logarithms, as axes independent of each other.
void uncertainties(const CalibrationProblem& problem, const Eigen::VectorXd& x,
                   const Eigen::MatrixXd& jacobian, const Options& options, Calibration& out) {
  const Eigen::MatrixXd known = jacobian.transpose() * jacobian;
  const Eigen::MatrixXd by_curvature =
      known.ldlt().solve(Eigen::MatrixXd::Identity(x.size(), x.size()));
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> axes(by_curvature);
  Eigen::VectorXd errors;
  problem(x, errors);
  const double scatter = scatter_of(problem, errors, jacobian, by_curvature),
               most = problem.prior_sigma();
  out.machine.time_error = options.expected_error * scatter;
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(x.size(), x.size());
  for (int k = 0; k < x.size(); ++k) {
    Eigen::VectorXd axis =
        axes.eigenvectors().col(k) * std::sqrt(std::max(0.0, axes.eigenvalues()[k]));
    // What was known beforehand does not become less by runs that fit badly.
    axis *= std::min(scatter, std::max(1.0, most / std::max(axis.norm(), 1e-12)));
    covariance += axis * axis.transpose();
    job::Leeway leeway;
    for (int l = 0; l < x.size(); ++l) leeway.*leeway_of(options.figures[l]) = std::exp(axis[l]);
    out.machine.leeway.push_back(leeway);
  }
  for (int k = 0; k < x.size(); ++k) {
    const double sigma = std::sqrt(std::max(0.0, covariance(k, k)));
    out.fitted[k].factor = std::exp(sigma);
    out.fitted[k].told_by_data = sigma < 0.5 * problem.prior_sigma();
    for (int l = 0; l < k; ++l) {
      // Whether the runs can tell two apart does not hang on how well they fit.
      const double both = std::sqrt(by_curvature(k, k) * by_curvature(l, l));
      if (both > 0 && std::abs(by_curvature(k, l)) > 0.95 * both) {
        out.entangled.emplace_back(out.fitted[l].figure, out.fitted[k].figure);
      }
    }
  }
}

// Figures that the runs say nothing of; x gets their start there.
std::vector<int> untold(const CalibrationProblem& problem, const Eigen::MatrixXd& jacobian,
                        Eigen::VectorXd& x) {
  std::vector<int> out;
  const Eigen::VectorXd start = problem.start();
  for (int k = 0; k < x.size(); ++k) {
    const double by_runs = jacobian.col(k).squaredNorm() - problem.known_before(k);
    if (by_runs >= 1e-6) continue;
    x[k] = start[k];
    out.push_back(k);
  }
  return out;
}

double planned_time(const TimedRun& run, job::Machine machine) {
  machine.feed_override *= run.feed_override;
  machine.rapid_override *= run.rapid_override;
  return timing::plan(*run.program, machine).time_s;
}

}  // namespace

Calibration fit(const job::Machine& machine, std::span<const TimedRun> runs,
                const Options& options) {
  Calibration out;
  CalibrationProblem problem(machine, runs, options);
  Eigen::VectorXd x = problem.start();
  problem.minimise(x);
  Eigen::MatrixXd jacobian(problem.values(), problem.inputs());
  std::vector<int> left;
  if (x.size() > 0) {
    problem.df(x, jacobian);
    left = untold(problem, jacobian, x);
  }
  out.machine = problem.machine_at(x);
  // They stay what the machine file says, to the digit, and 0 where it says nothing.
  for (const int k : left)
    set(options.figures[k], value_of(options.figures[k], machine), out.machine);
  const job::Waits& waits = out.machine.waits;
  if (waits.spindle_start_s == 0 && waits.spindle_rpm_per_s == 0 && machine.spindle.spin_up_s > 0 &&
      out.machine.spindle.spin_up_s == 0)
    out.machine.spindle.spin_up_s = machine.spindle.spin_up_s;
  // What an earlier calibration left open is not what this one does.
  out.machine.leeway.clear();
  out.machine.time_error = 0;
  for (const Figure f : options.figures) {
    Fitted one;
    one.figure = f;
    one.before = value_of(f, machine);
    one.after = value_of(f, out.machine);
    out.fitted.push_back(one);
  }
  if (x.size() > 0) uncertainties(problem, x, jacobian, options, out);
  for (const TimedRun& run : runs) {
    if (!(run.measured_s > 0)) continue;
    out.residuals.push_back(
        {run.name, run.measured_s, planned_time(run, machine), planned_time(run, out.machine)});
  }
  out.evaluations = problem.evaluations();
  return out;
}

}  // namespace proveout::after
