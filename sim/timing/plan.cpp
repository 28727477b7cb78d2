#include "sim/timing/plan.h"

#include <algorithm>
#include <cmath>

#include "sim/timing/limits.h"
#include "sim/timing/stream.h"

namespace proveout::timing {
namespace {

// Waits of the program, and for each motion whether the machine stands before it.
class WaitList {
 public:
  WaitList(const nc::Program& program, const job::Machine& machine)
      : machine_(machine), stands_(program.motions.size() + 1), tool_(program.tool_at_start) {
    for (const nc::Event& e : program.events) take(e, program.states[e.state]);
  }
  bool stands_before(std::size_t motion) const { return stands_[motion]; }
  std::vector<Wait> take() { return std::move(waits_); }

 private:
  void take(const nc::Event& e, const nc::ModalState& state) {
    const job::Waits& waits = machine_.waits;
    double seconds = 0;
    switch (e.kind) {
      case nc::EventKind::dwell:
        seconds = e.value;
        break;
      case nc::EventKind::tool_change:
        seconds = (turn_ != nc::SpindleTurn::stopped ? waits.spindle_stop_s : 0) + to_speed(0) +
                  (state.tool != tool_ ? machine_.tool_change_s : 0);
        tool_ = state.tool;
        turn_ = nc::SpindleTurn::stopped;
        break;
      case nc::EventKind::spindle:
        if (state.turn == turn_ && !(waits.spindle_rpm_per_s > 0)) return;  // only a new speed
        seconds = spindle(state);
        if (state.turn == turn_ && seconds == 0) return;
        turn_ = state.turn;
        break;
      case nc::EventKind::stop:
        seconds = waits.program_stop_s;
        break;
      case nc::EventKind::program_end:
        break;
      case nc::EventKind::coolant:
        seconds = state.mist || state.flood ? waits.coolant_on_s : waits.coolant_off_s;
        if (seconds == 0) return;
        break;
      case nc::EventKind::message:
        return;
    }
    stands_[std::min(static_cast<std::size_t>(e.before_motion), stands_.size() - 1)] = true;
    Wait w;
    w.before_motion = e.before_motion;
    w.time_s = seconds;
    w.kind = e.kind;
    w.line = e.line;
    waits_.push_back(w);
  }

  double spindle(const nc::ModalState& state) {
    const job::Waits& waits = machine_.waits;
    const double sign = state.turn == nc::SpindleTurn::stopped             ? 0
                        : state.turn == nc::SpindleTurn::counter_clockwise ? -1
                                                                           : 1;
    const double ramp = to_speed(sign * state.spindle_rpm);
    if (state.turn == turn_) return ramp;
    if (state.turn == nc::SpindleTurn::stopped) return waits.spindle_stop_s + ramp;
    return machine_.spindle.spin_up_s + waits.spindle_start_s + ramp;
  }

  // Time for the spindle to come from its speed to that one, signed by its sense.
  double to_speed(double rpm) {
    const double difference = std::abs(rpm - rpm_), rate = machine_.waits.spindle_rpm_per_s;
    rpm_ = rpm;
    return rate > 0 ? difference / rate : 0;
  }

  const job::Machine& machine_;
  std::vector<bool> stands_;
  std::vector<Wait> waits_;
  int tool_ = 0;
  nc::SpindleTurn turn_ = nc::SpindleTurn::stopped;
  double rpm_ = 0;  // signed: counter-clockwise below 0
};

class Planner {
 public:
  Planner(const nc::Program& program, const job::Machine& machine)
      : program_(program), machine_(machine), waits_(program, machine) {
    plan_.motions.resize(program.motions.size());
  }

  Plan run() {
    std::vector<double> naive(program_.motions.size(), 0);
    Stream stream(machine_,
                  [&](std::size_t number, const TimedMotion& t, double length, double commanded) {
                    plan_.motions[number] = t;
                    if (commanded > 0) naive[number] = length / commanded;
                  });
    for (std::size_t i = 0; i < program_.motions.size(); ++i) {
      if (waits_.stands_before(i)) stream.stand();
      const nc::Motion& m = program_.motions[i];
      stream.add(m, program_.states[m.state]);
    }
    stream.finish();
    set_clock(naive);
    return std::move(plan_);
  }

 private:
  void set_clock(const std::vector<double>& naive) {
    plan_.waits = waits_.take();
    double now = machine_.program_overhead_s;
    plan_.naive_s = machine_.program_overhead_s;
    std::size_t w = 0;
    const auto wait_until = [&](std::size_t motion) {
      for (; w < plan_.waits.size() && plan_.waits[w].before_motion <= motion; ++w) {
        plan_.waits[w].start_s = now;
        now += plan_.waits[w].time_s;
        plan_.naive_s += plan_.waits[w].time_s;
      }
    };
    for (std::size_t i = 0; i < plan_.motions.size(); ++i) {
      wait_until(i);
      plan_.motions[i].start_s = now;
      now += plan_.motions[i].time_s;
      plan_.naive_s += naive[i];
    }
    wait_until(plan_.motions.size());
    plan_.time_s = now;
  }

  const nc::Program& program_;
  const job::Machine& machine_;
  WaitList waits_;
  Plan plan_;
};

// Distance covered t seconds into a ramp from v0 towards v1.
double ramp_distance(double v0, double v1, double a, double j, double t) {
  const double whole = ramp_time(v0, v1, a, j), sign = v1 >= v0 ? 1 : -1;
  if (t >= whole) return ramp_length(v0, v1, a, j);
  if (j <= 0) return v0 * t + sign * 0.5 * a * t * t;
  const double dv = std::abs(v1 - v0);
  const double tj = dv >= a * a / j ? a / j : std::sqrt(dv / j);
  const double peak = j * tj;
  if (t <= tj) return v0 * t + sign * j * t * t * t / 6;
  double s = v0 * tj + sign * j * tj * tj * tj / 6, v = v0 + sign * 0.5 * peak * tj;
  const double hold = whole - 2 * tj;
  if (t <= tj + hold) {
    const double d = t - tj;
    return s + v * d + sign * 0.5 * peak * d * d;
  }
  s += v * hold + sign * 0.5 * peak * hold * hold;
  v += sign * peak * hold;
  const double d = t - tj - hold;
  return s + v * d + sign * (0.5 * peak * d * d - j * d * d * d / 6);
}

double ramp_speed(double v0, double v1, double a, double j, double t) {
  const double whole = ramp_time(v0, v1, a, j), sign = v1 >= v0 ? 1 : -1;
  if (t >= whole) return v1;
  if (j <= 0) return v0 + sign * a * t;
  const double dv = std::abs(v1 - v0);
  const double tj = dv >= a * a / j ? a / j : std::sqrt(dv / j);
  const double peak = j * tj, hold = whole - 2 * tj;
  if (t <= tj) return v0 + sign * 0.5 * j * t * t;
  if (t <= tj + hold) return v0 + sign * (0.5 * peak * tj + peak * (t - tj));
  const double left = whole - t;
  return v1 - sign * 0.5 * j * left * left;
}

// Time into a ramp at which a distance is covered.
double ramp_time_at(double v0, double v1, double a, double j, double distance) {
  const double whole = ramp_time(v0, v1, a, j);
  if (j <= 0) {
    const double sign = v1 >= v0 ? 1 : -1;
    const double v = std::sqrt(std::max(0.0, v0 * v0 + 2 * sign * a * distance));
    return std::clamp((v - v0) / (sign * a), 0.0, whole);
  }
  double low = 0, high = whole;
  for (int i = 0; i < 50; ++i) {
    const double middle = 0.5 * (low + high);
    (ramp_distance(v0, v1, a, j, middle) <= distance ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

}  // namespace

double speed_at(const TimedMotion& t, double length, double where) {
  if (!(length > 0)) return 0;
  const double a = t.acceleration, j = t.jerk;
  const double up = ramp_length(t.entry_speed, t.cruise_speed, a, j);
  const double down = ramp_length(t.cruise_speed, t.exit_speed, a, j);
  if (where < up) {
    return ramp_speed(t.entry_speed, t.cruise_speed, a, j,
                      ramp_time_at(t.entry_speed, t.cruise_speed, a, j, std::max(0.0, where)));
  }
  if (where > length - down) {
    const double into = where - (length - down);
    return ramp_speed(t.cruise_speed, t.exit_speed, a, j,
                      ramp_time_at(t.cruise_speed, t.exit_speed, a, j, std::min(into, down)));
  }
  return t.cruise_speed;
}

double time_at(const TimedMotion& t, double length, double where) {
  if (!(length > 0)) return 0;
  if (where <= 0) return 0;
  if (where >= length) return t.time_s;
  const double a = t.acceleration, j = t.jerk;
  const double up = ramp_length(t.entry_speed, t.cruise_speed, a, j);
  const double down = ramp_length(t.cruise_speed, t.exit_speed, a, j);
  if (where < up) return ramp_time_at(t.entry_speed, t.cruise_speed, a, j, where);
  const double after = ramp_time(t.cruise_speed, t.exit_speed, a, j);
  if (where > length - down) {
    return t.time_s - after +
           ramp_time_at(t.cruise_speed, t.exit_speed, a, j, where - (length - down));
  }
  return ramp_time(t.entry_speed, t.cruise_speed, a, j) +
         (t.cruise_speed > 0 ? (where - up) / t.cruise_speed : 0);
}

const char* name(SlowedBy reason) {
  switch (reason) {
    case SlowedBy::nothing:
      return "nothing";
    case SlowedBy::corner:
      return "corner";
    case SlowedBy::short_block:
      return "short-block";
    case SlowedBy::axis_limit:
      return "axis-limit";
    case SlowedBy::block_rate:
      return "block-rate";
    case SlowedBy::arc:
      return "arc";
    case SlowedBy::wait:
      return "stop";
  }
  return "";
}

Plan plan(const nc::Program& program, const job::Machine& machine) {
  return Planner(program, machine).run();
}

}  // namespace proveout::timing
