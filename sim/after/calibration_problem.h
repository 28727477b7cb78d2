// What calibration minimises, for Eigen's Levenberg-Marquardt. x: logarithms of the figures.
#pragma once

#include <Eigen/Dense>
#include <atomic>
#include <map>
#include <span>
#include <vector>

#include "sim/after/calibrate.h"
#include "sim/timing/plan.h"

namespace proveout::after {

class CalibrationProblem {
 public:
  // machine, runs and options outlive this. runs may be fewer than were timed (one left out).
  CalibrationProblem(const job::Machine& machine, std::span<const TimedRun> runs,
                     const Options& options);

  using Scalar = double;
  using InputType = Eigen::VectorXd;
  using ValueType = Eigen::VectorXd;
  using JacobianType = Eigen::MatrixXd;
  enum { InputsAtCompileTime = Eigen::Dynamic, ValuesAtCompileTime = Eigen::Dynamic };
  int inputs() const { return static_cast<int>(start_.size()); }
  int values() const { return static_cast<int>(kinds_.size()); }
  // Errors over their expected sizes, each times its weight.
  int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& out) const;
  int df(const Eigen::VectorXd& x, Eigen::MatrixXd& jacobian) const;

  // Searches from x on. Errors beyond what is usual weigh less: after each search weights are set
  // by the errors left, until they stay (iteratively reweighted least squares).
  void minimise(Eigen::VectorXd& x);
  // Which of the errors are whole runs'.
  std::vector<int> of_runs() const;

  job::Machine machine_at(const Eigen::VectorXd& x) const;
  Eigen::VectorXd start() const;
  double prior_sigma() const;  // of a figure's logarithm
  // Information beforehand on figure k, 1 / variance of its logarithm.
  double known_before(int k) const;
  int evaluations() const { return evaluations_; }
  static constexpr int most_rounds = 60;

 private:
  static constexpr std::size_t none = static_cast<std::size_t>(-1);
  enum class Kind : std::uint8_t { run, reading, prior };
  using Lines = std::map<std::uint32_t, std::vector<std::size_t>>;  // motions by line, rising

  void search(Eigen::VectorXd& x);  // by the weights there are, which follow; 0 stays 0
  job::Machine as_run(const TimedRun& run, job::Machine machine) const;
  std::vector<double> motion_times(const Eigen::VectorXd& x) const;
  std::vector<double> errors(const Eigen::VectorXd& x, const std::vector<double>* motions_s) const;
  void log_errors(std::size_t run, const timing::Plan& plan, std::vector<double>& out) const;
  double speed_error(std::size_t run, std::size_t row, const timing::Plan& plan) const;
  std::vector<std::size_t> first_motions(std::size_t run) const;
  void index();

  job::Machine machine_;
  std::span<const TimedRun> runs_;
  const Options& options_;
  std::vector<double> start_;
  // Figures' numbers: the arcs' acceleration where only its likeness to the axes' is known
  // beforehand, and theirs; -1: none.
  int follows_ = -1, followed_ = -1;
  std::vector<Kind> kinds_;     // of each error
  std::vector<double> shares_;  // of each error: below 1 where a log has many readings
  Eigen::VectorXd weights_;     // of each error, by its share and its size
  std::vector<Lines> lines_;    // one a run; empty without a log
  // Of each run's log, row by row: the line's motion then under way.
  std::vector<std::vector<std::size_t>> first_;
  std::vector<nc::Program> waits_;  // the runs' programs without their motions
  mutable std::atomic<int> evaluations_ = 0;
  mutable int rounds_ = 0;
};

}  // namespace proveout::after
