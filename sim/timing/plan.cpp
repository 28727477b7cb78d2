#include "sim/timing/plan.h"

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>

#include "sim/timing/limits.h"

namespace proveout::timing {
namespace {

constexpr double unlimited = std::numeric_limits<double>::infinity();

// What the planner needs of each motion that has a length.
struct Item {
  std::size_t motion = 0;
  double length = 0;
  PathLimits limits;
  double joint = 0;  // speed limit at its start; 0 where the machine stands
};

double tolerance_of(const nc::ModalState& state, const job::Machine& machine) {
  return state.path_tolerance >= 0 ? state.path_tolerance : machine.path_tolerance;
}

// Waits of the program, and for each motion whether the machine stands before it.
class WaitList {
 public:
  WaitList(const nc::Program& program, const job::Machine& machine)
      : stands_(program.motions.size() + 1) {
    int tool = program.states.empty() ? 0 : program.states.front().tool;
    nc::SpindleTurn turn = nc::SpindleTurn::stopped;
    for (const nc::Event& e : program.events) {
      const nc::ModalState& state = program.states[e.state];
      const auto at = static_cast<std::size_t>(e.before_motion);
      double seconds = 0;
      switch (e.kind) {
        case nc::EventKind::dwell:
          seconds = e.value;
          break;
        case nc::EventKind::tool_change:
          seconds = state.tool != tool ? machine.tool_change_s : 0;
          tool = state.tool;
          turn = nc::SpindleTurn::stopped;
          break;
        case nc::EventKind::spindle:
          if (state.turn == turn) continue;  // only a new speed: no stop
          seconds = state.turn == nc::SpindleTurn::stopped ? 0 : machine.spindle.spin_up_s;
          turn = state.turn;
          break;
        case nc::EventKind::stop:
        case nc::EventKind::program_end:
          break;
        case nc::EventKind::message:
        case nc::EventKind::coolant:
          continue;
      }
      stands_[std::min(at, stands_.size() - 1)] = true;
      Wait w;
      w.before_motion = e.before_motion;
      w.time_s = seconds;
      w.kind = e.kind;
      w.line = e.line;
      waits_.push_back(w);
    }
  }
  bool stands_before(std::size_t motion) const { return stands_[motion]; }
  std::vector<Wait> take() { return std::move(waits_); }

 private:
  std::vector<bool> stands_;
  std::vector<Wait> waits_;
};

class Planner {
 public:
  Planner(const nc::Program& program, const job::Machine& machine)
      : program_(program), machine_(machine), waits_(program, machine) {
    make_items();
    plan_.motions.resize(program.motions.size());
  }

  Plan run() {
    const std::size_t window =
        machine_.lookahead > 0 ? static_cast<std::size_t>(machine_.lookahead) : items_.size();
    const bool jerk = (machine_.jerk.array() > 0).any();
    if (jerk)
      with_jerk(window);
    else
      without_jerk(window);
    set_clock();
    return std::move(plan_);
  }

 private:
  bool by_axis(const nc::Motion& m) const {
    return machine_.rapid_by_axis && m.kind == nc::PathKind::rapid;
  }

  void make_items() {
    const nc::Motion* before = nullptr;
    bool stands = true;
    for (std::size_t i = 0; i < program_.motions.size(); ++i) {
      const nc::Motion& m = program_.motions[i];
      stands = stands || waits_.stands_before(i);
      const double length = nc::length(m);
      if (!(length > 0)) continue;
      Item item;
      item.motion = i;
      item.length = length;
      item.limits = limits_of(m, length, machine_);
      item.joint = stands || before == nullptr ? 0 : joint_speed(*before, m);
      if (item.joint > 0) {
        item.joint = std::min({item.joint, items_.back().limits.top(), item.limits.top()});
      }
      items_.push_back(item);
      before = &m;
      stands = false;
    }
  }

  double joint_speed(const nc::Motion& a, const nc::Motion& b) const {
    const nc::ModalState& sa = program_.states[a.state];
    const nc::ModalState& sb = program_.states[b.state];
    if (sa.path_control != nc::PathControl::continuous ||
        sb.path_control != nc::PathControl::continuous || by_axis(a) || by_axis(b)) {
      return 0;
    }
    return corner_speed(nc::tangent_at(a, 1), nc::tangent_at(b, 0), tolerance_of(sb, machine_),
                        machine_.accel);
  }

  double joint_after(std::size_t k) const {
    return k + 1 < items_.size() ? items_[k + 1].joint : 0;
  }

  // With constant acceleration squared speeds add up along the path, so the speed from which
  // everything known ahead can still be met is a sliding minimum of (joint limit squared + work
  // still to come).
  void without_jerk(std::size_t window) {
    std::vector<double> work(items_.size() + 1, 0);  // 2 a L summed up to each joint
    for (std::size_t k = 0; k < items_.size(); ++k) {
      work[k + 1] = work[k] + 2 * items_[k].limits.acceleration * items_[k].length;
    }
    std::deque<std::pair<std::size_t, double>> least;  // joints with limit^2 + work, rising
    std::size_t known = 0;                             // joints below this are in the queue
    double entry = 0;
    for (std::size_t k = 0; k < items_.size(); ++k) {
      const std::size_t last =
          std::min(k + window, items_.size());  // joint at the end of what is known
      for (; known < last; ++known) {
        const double joint = known == 0 ? 0 : items_[known].joint;
        const double value = joint == unlimited ? unlimited : joint * joint + work[known];
        while (!least.empty() && least.back().second >= value) least.pop_back();
        least.emplace_back(known, value);
      }
      while (!least.empty() && least.front().first <= k) least.pop_front();
      // The speed at the end of the last known motion is taken as 0.
      double ahead = work[last];
      if (!least.empty()) ahead = std::min(ahead, least.front().second);
      const double meetable = std::sqrt(std::max(0.0, ahead - work[k + 1]));
      const Item& item = items_[k];
      const double exit = std::min(
          {meetable, joint_after(k), reachable(entry, item.length, item.limits.acceleration, 0)});
      finish(item, entry, exit);
      entry = exit;
    }
  }

  // With a jerk limit ramps do not add up: the known motions are gone through backwards each time.
  void with_jerk(std::size_t window) {
    std::vector<double> meetable(items_.size() + 1, 0);
    double entry = 0;
    for (std::size_t k = 0; k < items_.size(); ++k) {
      const std::size_t last = std::min(k + window, items_.size());
      if (window < items_.size() || k == 0) {
        double v = 0;
        for (std::size_t m = last; m > k + 1; --m) {
          meetable[m] = v;
          const Item& item = items_[m - 1];
          v = std::min(item.joint,
                       reachable(v, item.length, item.limits.acceleration, item.limits.jerk));
        }
        meetable[k + 1] = v;
        if (k == 0 && window >= items_.size() && last == k + 1) meetable[last] = 0;
      }
      const Item& item = items_[k];
      const double exit =
          std::min({meetable[k + 1], joint_after(k),
                    reachable(entry, item.length, item.limits.acceleration, item.limits.jerk)});
      finish(item, entry, exit);
      entry = exit;
    }
  }

  void finish(const Item& item, double entry, double exit) {
    const nc::Motion& m = program_.motions[item.motion];
    TimedMotion& t = plan_.motions[item.motion];
    const PathLimits& l = item.limits;
    if (by_axis(m)) return rapid_by_axis(m, t);
    const double cruise = cruise_speed(entry, exit, l.top(), item.length, l.acceleration, l.jerk);
    const double up = ramp_length(entry, cruise, l.acceleration, l.jerk);
    const double down = ramp_length(cruise, exit, l.acceleration, l.jerk);
    const double flat = std::max(0.0, item.length - up - down);
    t.entry_speed = static_cast<float>(entry);
    t.cruise_speed = static_cast<float>(cruise);
    t.exit_speed = static_cast<float>(exit);
    t.acceleration = static_cast<float>(l.acceleration);
    t.jerk = static_cast<float>(l.jerk);
    t.time_s = ramp_time(entry, cruise, l.acceleration, l.jerk) +
               ramp_time(cruise, exit, l.acceleration, l.jerk) + (cruise > 0 ? flat / cruise : 0);
    if (machine_.block_rate > 0) t.time_s = std::max(t.time_s, 1 / machine_.block_rate);
    t.feed_clipped = l.by_axis && m.kind != nc::PathKind::rapid;
    t.slowed_by = reason(l, entry, cruise, exit);
  }

  static SlowedBy reason(const PathLimits& l, double entry, double cruise, double exit) {
    if (l.by_rate) return SlowedBy::block_rate;
    if (l.by_arc) return SlowedBy::arc;
    if (l.by_axis) return SlowedBy::axis_limit;
    if (cruise < l.top() * (1 - 1e-9)) return SlowedBy::short_block;
    if (entry == 0 || exit == 0) return SlowedBy::wait;
    if (std::min(entry, exit) < l.top() * (1 - 1e-9)) return SlowedBy::corner;
    return SlowedBy::nothing;
  }

  // Each axis makes its own ramp from rest to rest; the slowest one counts.
  void rapid_by_axis(const nc::Motion& m, TimedMotion& t) {
    for (int i = 0; i < 3; ++i) {
      const double way = std::abs(m.end[i] - m.start[i]);
      if (way == 0) continue;
      const double top = machine_.rapid[i] * machine_.rapid_override / 60, a = machine_.accel[i],
                   j = machine_.jerk[i];
      const double cruise = cruise_speed(0, 0, top, way, a, j);
      const double flat = std::max(0.0, way - 2 * ramp_length(0, cruise, a, j));
      t.time_s = std::max(t.time_s, 2 * ramp_time(0, cruise, a, j) + flat / cruise);
    }
    const double length = nc::length(m);
    t.cruise_speed = static_cast<float>(t.time_s > 0 ? length / t.time_s : 0);
    t.entry_speed = t.exit_speed = t.cruise_speed;  // the mean: the path is no straight line
  }

  void set_clock() {
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
    std::size_t item = 0;
    for (std::size_t i = 0; i < plan_.motions.size(); ++i) {
      wait_until(i);
      plan_.motions[i].start_s = now;
      now += plan_.motions[i].time_s;
      if (item < items_.size() && items_[item].motion == i) {
        const PathLimits& l = items_[item].limits;
        if (l.commanded > 0) plan_.naive_s += items_[item].length / l.commanded;
        ++item;
      }
    }
    wait_until(plan_.motions.size());
    plan_.time_s = now;
  }

  const nc::Program& program_;
  const job::Machine& machine_;
  WaitList waits_;
  std::vector<Item> items_;
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

Plan plan(const nc::Program& program, const job::Machine& machine) {
  return Planner(program, machine).run();
}

}  // namespace proveout::timing
