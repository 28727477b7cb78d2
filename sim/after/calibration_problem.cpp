#include "sim/after/calibration_problem.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <unsupported/Eigen/NonLinearOptimization>

#include "sim/after/figures.h"

namespace proveout::after {
namespace {

// Errors, in expected sizes, beyond which they count less than their square (choices).
constexpr double usual_of_run = 3, usual_of_reading = 1.5;
// A log's rows, s apart (choice), and what the model misses of a passage and of a top speed.
constexpr double coarseness_s = 0.1, reading_error = 0.1;
// A file without arc_accel takes arcs at the axes' acceleration: within this factor, one standard
// deviation (choice).
constexpr double arcs_like_axes = 2;

}  // namespace

CalibrationProblem::CalibrationProblem(const job::Machine& machine, std::span<const TimedRun> runs,
                                       const Options& options)
    : machine_(machine), runs_(runs), options_(options) {
  for (const Figure f : options.figures) start_.push_back(std::log(starting_value(f, machine)));
  // A spindle's start is told in one way.
  for (const Figure f : options.figures) {
    if (f == Figure::spindle_start || f == Figure::spindle_rate) machine_.spindle.spin_up_s = 0;
  }
  for (int k = 0; k < inputs(); ++k) {
    const Figure f = options.figures[static_cast<std::size_t>(k)];
    if (f == Figure::acceleration) followed_ = k;
    if (f == Figure::arc_acceleration && !(machine.arc_accel > 0)) follows_ = k;
  }
  if (followed_ < 0) follows_ = -1;
  index();
  weights_ = Eigen::VectorXd::Map(shares_.data(), values()).cwiseSqrt();
}

void CalibrationProblem::index() {
  lines_.resize(runs_.size());
  first_.resize(runs_.size());
  for (std::size_t i = 0; i < runs_.size(); ++i) {
    const TimedRun& run = runs_[i];
    if (run.measured_s > 0) kinds_.push_back(Kind::run);
    nc::Program& waits = waits_.emplace_back();
    waits.states = run.program->states;
    waits.events = run.program->events;
    for (nc::Event& e : waits.events) e.before_motion = 0;
    waits.tool_at_start = run.program->tool_at_start;
    if (run.log.size() < 3) continue;
    const auto& motions = run.program->motions;
    for (std::size_t k = 0; k < motions.size(); ++k) lines_[i][motions[k].line].push_back(k);
    first_[i] = first_motions(i);
    std::size_t readings = run.log.size() - 1;
    for (const LoggedLine& l : run.log) readings += l.top_speed > 0 ? 1 : 0;
    kinds_.insert(kinds_.end(), readings, Kind::reading);
    // So many readings of reading_error tell what that many runs of expected_error do.
    const double tells = reading_error / options_.expected_error;
    const double most = options_.runs_in_a_log * tells * tells;
    shares_.resize(kinds_.size() - readings, 1);
    shares_.resize(kinds_.size(), std::min(1.0, most / static_cast<double>(readings)));
  }
  kinds_.insert(kinds_.end(), start_.size(), Kind::prior);
  shares_.resize(kinds_.size(), 1);
}

int CalibrationProblem::operator()(const Eigen::VectorXd& x, Eigen::VectorXd& out) const {
  const std::vector<double> e = errors(x, nullptr);
  out = Eigen::VectorXd::Map(e.data(), values()).cwiseProduct(weights_);
  return 0;
}

// Central differences over a hundredth: a plan is smooth only piece by piece, so steps must not be
// tiny. All of them at once: each writes its own place. What motions take does not change with a
// wait, so those columns need no plan.
int CalibrationProblem::df(const Eigen::VectorXd& x, Eigen::MatrixXd& jacobian) const {
  const double step = 1e-2;
  std::vector<Eigen::VectorXd> moved(2 * static_cast<std::size_t>(x.size()), x), out(moved.size());
  for (Eigen::Index k = 0; k < x.size(); ++k) {
    moved[static_cast<std::size_t>(2 * k)][k] += step;
    moved[static_cast<std::size_t>(2 * k + 1)][k] -= step;
  }
  const bool any_wait =
      std::any_of(options_.figures.begin(), options_.figures.end(), &after::is_wait);
  const std::vector<double> motions_s = any_wait ? motion_times(x) : std::vector<double>();
  tbb::parallel_for(std::size_t(0), moved.size(), [&](std::size_t k) {
    const auto e = errors(moved[k], is_wait(options_.figures[k / 2]) ? &motions_s : nullptr);
    out[k] = Eigen::VectorXd::Map(e.data(), values()).cwiseProduct(weights_);
  });
  for (Eigen::Index k = 0; k < x.size(); ++k) {
    const auto pair = static_cast<std::size_t>(2 * k);
    jacobian.col(k) = (out[pair] - out[pair + 1]) / (2 * step);
  }
  if (options_.progress) options_.progress(std::min(++rounds_, most_rounds), most_rounds);
  return 0;
}

void CalibrationProblem::minimise(Eigen::VectorXd& x) {
  if (x.size() == 0) return;
  // Whole runs first: readings only refine what these tell, and do not lead the search astray where
  // weights by the errors of a bad start would leave the runs out.
  if (!of_runs().empty() &&
      std::find(kinds_.begin(), kinds_.end(), Kind::reading) != kinds_.end()) {
    const Eigen::VectorXd all = weights_;
    for (int k = 0; k < values(); ++k)
      if (kinds_[k] == Kind::reading) weights_[k] = 0;
    search(x);
    weights_ = all;
  }
  search(x);
}

void CalibrationProblem::search(Eigen::VectorXd& x) {
  constexpr int most_searches = 6;
  for (int search = 0; search < most_searches; ++search) {
    Eigen::LevenbergMarquardt<const CalibrationProblem> solver(*this);
    solver.parameters.maxfev = most_rounds;
    solver.parameters.xtol = 1e-6;
    solver.parameters.ftol = 1e-9;
    solver.minimize(x);
    const std::vector<double> e = errors(x, nullptr);
    double changed = 0;
    for (int k = 0; k < values(); ++k) {
      const Kind kind = kinds_[k];
      if (kind == Kind::prior || weights_[k] == 0) continue;
      const double q = e[k] / (kind == Kind::run ? usual_of_run : usual_of_reading);
      // Of the pseudo-Huber loss.
      const double weight = std::sqrt(shares_[k]) * std::pow(1 + q * q, -0.25);
      changed = std::max(changed, std::abs(weight - weights_[k]));
      weights_[k] = weight;
    }
    if (changed < 0.01) return;
  }
}

std::vector<int> CalibrationProblem::of_runs() const {
  std::vector<int> out;
  for (int k = 0; k < values(); ++k) {
    if (kinds_[k] == Kind::run) out.push_back(k);
  }
  return out;
}

job::Machine CalibrationProblem::machine_at(const Eigen::VectorXd& x) const {
  job::Machine m = machine_;
  for (int k = 0; k < x.size(); ++k)
    set(options_.figures[k], std::exp(std::clamp(x[k], -20.0, 20.0)), m);
  return m;
}

Eigen::VectorXd CalibrationProblem::start() const {
  return Eigen::VectorXd::Map(start_.data(), inputs());
}

double CalibrationProblem::prior_sigma() const { return std::log(options_.prior_factor); }

job::Machine CalibrationProblem::as_run(const TimedRun& run, job::Machine machine) const {
  machine.feed_override *= run.feed_override;
  machine.rapid_override *= run.rapid_override;
  return machine;
}

// What each run's motions take without its waits; 0 for runs with a log, which are planned anyway.
std::vector<double> CalibrationProblem::motion_times(const Eigen::VectorXd& x) const {
  const job::Machine m = machine_at(x);
  std::vector<double> out(runs_.size());
  tbb::parallel_for(std::size_t(0), runs_.size(), [&](std::size_t i) {
    if (!lines_[i].empty()) return;
    const job::Machine machine = as_run(runs_[i], m);
    out[i] =
        timing::plan(*runs_[i].program, machine).time_s - timing::plan(waits_[i], machine).time_s;
    ++evaluations_;
  });
  return out;
}

std::vector<double> CalibrationProblem::errors(const Eigen::VectorXd& x,
                                               const std::vector<double>* motions_s) const {
  std::vector<double> out;
  out.reserve(kinds_.size());
  const job::Machine m = machine_at(x);
  for (std::size_t i = 0; i < runs_.size(); ++i) {
    const TimedRun& run = runs_[i];
    const job::Machine machine = as_run(run, m);
    const auto add_run = [&](double planned_s) {
      if (run.measured_s > 0)
        out.push_back(std::log(planned_s / run.measured_s) / options_.expected_error);
    };
    if (motions_s != nullptr && lines_[i].empty()) {
      add_run((*motions_s)[i] + timing::plan(waits_[i], machine).time_s);
      continue;
    }
    const timing::Plan plan = timing::plan(*run.program, machine);
    ++evaluations_;
    add_run(plan.time_s);
    if (!lines_[i].empty()) log_errors(i, plan, out);
  }
  // What was known beforehand.
  for (int k = 0; k < x.size(); ++k) {
    if (k == follows_) {
      out.push_back((x[k] - x[followed_]) / std::log(arcs_like_axes));
    } else {
      out.push_back((x[k] - start_[k]) / prior_sigma());
    }
  }
  return out;
}

double CalibrationProblem::known_before(int k) const {
  const double own = 1 / (prior_sigma() * prior_sigma()),
               like = 1 / (std::log(arcs_like_axes) * std::log(arcs_like_axes));
  if (k == follows_) return like;
  return k == followed_ && follows_ >= 0 ? own + like : own;
}

// The first motion of each logged line, in the log's order; `none` where the line has none.
std::vector<std::size_t> CalibrationProblem::first_motions(std::size_t run) const {
  std::vector<std::size_t> first;
  std::size_t from = 0;
  for (const LoggedLine& l : runs_[run].log) {
    first.push_back(none);
    const auto found = lines_[run].find(l.line);
    if (found == lines_[run].end()) continue;
    const auto next = std::lower_bound(found->second.begin(), found->second.end(), from);
    if (next == found->second.end()) continue;
    first.back() = from = *next;
  }
  return first;
}

// Passages between logged lines, each against its own length and the log's coarseness, and top
// speeds. They share what the model gets wrong, so that all together tell no more than a few runs.
void CalibrationProblem::log_errors(std::size_t i, const timing::Plan& plan,
                                    std::vector<double>& out) const {
  const TimedRun& run = runs_[i];
  const std::vector<std::size_t>& first = first_[i];
  for (std::size_t k = 1; k < run.log.size(); ++k) {
    const double seen = run.log[k].start_s - run.log[k - 1].start_s;
    const bool known = first[k] != none && first[k - 1] != none;
    const double planned =
        known ? plan.motions[first[k]].start_s - plan.motions[first[k - 1]].start_s : 0;
    out.push_back(known ? (planned - seen) / (coarseness_s + reading_error * seen) : 0);
  }
  for (std::size_t k = 0; k < run.log.size(); ++k) {
    const LoggedLine& l = run.log[k];
    if (l.top_speed > 0) out.push_back(speed_error(i, k, plan));
  }
}

// Of the line's top speed. A reading now and then seldom meets the top, so it tells how fast the
// line was at least; and a control may tell line and speed one reading apart, so motions from the
// line before on count.
double CalibrationProblem::speed_error(std::size_t i, std::size_t k,
                                       const timing::Plan& plan) const {
  const LoggedLine& l = runs_[i].log[k];
  const auto found = lines_[i].find(l.line);
  if (found == lines_[i].end()) return 0;
  double fastest = 0;
  for (const std::size_t m : found->second)
    fastest = std::max<double>(fastest, plan.motions[m].cruise_speed);
  if (!(fastest > 0)) return 0;
  const auto error = [&] { return (fastest - l.top_speed) / l.top_speed / reading_error; };
  if (l.held) return error();
  const std::size_t to = first_[i][k], from = k > 0 ? first_[i][k - 1] : none;
  for (std::size_t m = from; to != none && from != none && m < to; ++m)
    fastest = std::max<double>(fastest, plan.motions[m].cruise_speed);
  return std::min(error(), 0.0);
}

}  // namespace proveout::after
