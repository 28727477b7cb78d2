#include "sim/timing/stream.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace proveout::timing {
namespace {

constexpr double unlimited = std::numeric_limits<double>::infinity();

}  // namespace

Stream::Stream(const job::Machine& machine, Planned planned)
    : machine_(machine), planned_(std::move(planned)), jerk_((machine.jerk.array() > 0).any()) {}

void Stream::stand() {
  finish();
  stands_ = true;
}

double Stream::joint_speed(const nc::Motion& m, const nc::ModalState& state, bool by_axis) const {
  if (stands_ || last_stops_ || by_axis || state.path_control != nc::PathControl::continuous)
    return 0;
  const double tolerance =
      state.path_tolerance >= 0 ? state.path_tolerance : machine_.path_tolerance;
  return corner_speed(last_tangent_, nc::tangent_at(m, 0), tolerance, machine_.accel);
}

void Stream::add(const nc::Motion& m, const nc::ModalState& state) {
  const std::size_t number = added_++;
  const double length = nc::length(m);
  if (!(length > 0)) return;
  Item item;
  item.number = number;
  item.length = length;
  item.rapid = m.kind == nc::PathKind::rapid;
  item.limits = limits_of(m, length, machine_);
  item.reach = Reach(length, item.limits.acceleration, item.limits.jerk);
  const bool by_axis = machine_.rapid_by_axis && item.rapid;
  if (by_axis) item.by_axis_s = by_axis_time(m);
  item.joint = joint_speed(m, state, by_axis);
  if (item.joint > 0) item.joint = std::min({item.joint, last_top_, item.limits.top()});
  // A joint of speed 0 parts what lies before it from what comes: nothing need be held.
  if (item.joint == 0) finish();
  item.work = total_work_;
  if (!items_.empty() && !jerk_) {
    const double value = item.joint == unlimited ? unlimited : item.joint * item.joint + item.work;
    while (!least_.empty() && least_.back().second >= value) least_.pop_back();
    least_.emplace_back(first_ + items_.size(), value);
  }
  total_work_ += 2 * item.limits.acceleration * length;
  items_.push_back(item);
  last_tangent_ = nc::tangent_at(m, 1);
  last_top_ = item.limits.top();
  last_stops_ = by_axis || state.path_control != nc::PathControl::continuous;
  stands_ = false;
  const auto window = static_cast<std::size_t>(machine_.lookahead);
  if (window == 0) return;
  if (jerk_) {
    if (items_.size() >= window + side_by_side - 1) plan_side_by_side(window);
  } else if (items_.size() >= window) {
    plan_first(window);
  }
}

void Stream::finish() {
  if (jerk_ && machine_.lookahead == 0) {
    plan_all();
  } else {
    const std::size_t most =
        machine_.lookahead > 0 ? static_cast<std::size_t>(machine_.lookahead) : items_.size();
    while (!items_.empty()) plan_first(std::min(items_.size(), most));
  }
  least_.clear();
  first_ = 0;
  settled_ = 0;
  total_work_ = 0;
  entry_ = 0;
}

// Greatest speed at the end of the first item from which everything known can still be met, the end
// of the last known one taken as a stop. With constant acceleration squared speeds add up along the
// path, so this is a sliding minimum of (joint limit squared + work still to come); with a jerk
// limit ramps do not add up, and the known items are gone through backwards.
double Stream::meetable(std::size_t known) {
  if (jerk_) return meetable_with_jerk(known);
  while (!least_.empty() && least_.front().first <= first_) least_.pop_front();
  double ahead = total_work_;
  if (!least_.empty()) ahead = std::min(ahead, least_.front().second);
  const double behind = items_.size() > 1 ? items_[1].work : total_work_;
  return std::sqrt(std::max(0.0, ahead - behind));
}

// Backwards from the end of what is known, as far as an answer differs from the one kept from
// before; not at all while the answers are settled.
double Stream::meetable_with_jerk(std::size_t known) {
  if (known < 2) return 0;
  if (first_ + 1 < settled_) return items_[1].meets;
  double v = 0;
  bool binds = false;
  for (std::size_t k = known; k-- > 1;) {
    Item& item = items_[k];
    v = item.reach.from(v);
    if (v >= item.joint) {
      v = item.joint;
      binds = true;
    }
    if (v == item.meets) break;
    item.meets = v;
  }
  if (binds) settle(known);
  return items_[1].meets;
}

// A joint that binds whatever speed the end of what is known may come to have: its answer and all
// before it stay, whatever is added. More speed at a ramp's slow end is not always more at its fast
// one: from rest on, reachable(v) first falls, by less than 0.056 of itself, and rises from where v
// is half of the gain or half of a^2 / j (its derivative's zero, for ramps without and with
// constant acceleration).
void Stream::settle(std::size_t known) {
  double least = 0;
  for (std::size_t k = known; k-- > 1 && first_ + k + 1 > settled_;) {
    const Item& item = items_[k];
    const double a = item.limits.acceleration, j = item.limits.jerk, there = item.reach.from(least);
    const bool rises = j <= 0 || 2 * least >= std::min(there - least, a * a / j);
    least = rises ? there : 0.944 * there;
    if (least >= item.joint) {
      settled_ = first_ + k + 1;
      return;
    }
  }
}

// The next few items at once, each with the window of its own: what one step backwards gives the
// next one waits for, and the steps of several windows fill each other's waiting.
void Stream::plan_side_by_side(std::size_t window) {
  if (first_ + side_by_side < settled_ || window < 2) {
    for (std::size_t i = 0; i < side_by_side; ++i) plan_first(window);
    return;
  }
  windows_.clear();
  for (std::size_t k = 0; k < window + side_by_side - 1; ++k)
    windows_.push_back({items_[k].reach, items_[k].joint});
  std::array<double, side_by_side> v{};
  std::array<const Reach*, side_by_side> lengths{};
  bool binds = false;
  for (std::size_t k = window; k-- > 1;) {
    for (std::size_t i = 0; i < side_by_side; ++i) lengths[i] = &windows_[k + i].reach;
    Reach::from_each(lengths, v);
    for (std::size_t i = 0; i < side_by_side; ++i) v[i] = std::min(v[i], windows_[k + i].joint);
    items_[k + side_by_side - 1].meets = v.back();
    binds = binds || v.back() == windows_[k + side_by_side - 1].joint;
  }
  if (binds) settle(window + side_by_side - 1);
  for (const double meets : v) plan_first_with(meets);
}

void Stream::plan_first(std::size_t known) { plan_first_with(meetable(known)); }

// meets: the speed at the first item's end from which all behind it can be met.
void Stream::plan_first_with(double meets) {
  const Item& item = items_.front();
  const double next = items_.size() > 1 ? items_[1].joint : 0;
  const double exit = std::min({meets, next, item.reach.from(entry_)});
  give(item, entry_, exit);
  entry_ = exit;
  items_.pop_front();
  ++first_;
}

// With jerk and unlimited look-ahead: once backwards, once forwards.
void Stream::plan_all() {
  speeds_.assign(items_.size() + 1, 0);
  for (std::size_t k = items_.size(); k-- > 1;) {
    const Item& item = items_[k];
    speeds_[k] = std::min(item.joint, item.reach.from(speeds_[k + 1]));
  }
  for (std::size_t k = 0; k < items_.size(); ++k) {
    const Item& item = items_[k];
    const double exit = std::min(speeds_[k + 1], item.reach.from(entry_));
    give(item, entry_, exit);
    entry_ = exit;
  }
  items_.clear();
}

void Stream::give(const Item& item, double entry, double exit) {
  TimedMotion t;
  const PathLimits& l = item.limits;
  if (item.by_axis_s >= 0) {
    t.time_s = item.by_axis_s;
    t.cruise_speed = static_cast<float>(t.time_s > 0 ? item.length / t.time_s : 0);
    t.entry_speed = t.exit_speed = t.cruise_speed;  // the mean: the path is no straight line
    return planned_(item.number, t, item.length, l.commanded);
  }
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
  t.feed_clipped = l.by_axis && !item.rapid;
  t.slowed_by = reason(l, entry, cruise, exit);
  planned_(item.number, t, item.length, l.commanded);
}

SlowedBy Stream::reason(const PathLimits& l, double entry, double cruise, double exit) {
  if (l.by_rate) return SlowedBy::block_rate;
  if (l.by_arc) return SlowedBy::arc;
  if (l.by_axis) return SlowedBy::axis_limit;
  if (cruise < l.top() * (1 - 1e-9)) return SlowedBy::short_block;
  if (entry == 0 || exit == 0) return SlowedBy::wait;
  if (std::min(entry, exit) < l.top() * (1 - 1e-9)) return SlowedBy::corner;
  return SlowedBy::nothing;
}

// Each axis makes its own ramp from rest to rest; the slowest one counts.
double Stream::by_axis_time(const nc::Motion& m) const {
  double slowest = 0;
  for (int i = 0; i < 3; ++i) {
    const double way = std::abs(m.end[i] - m.start[i]);
    if (way == 0) continue;
    const double top = machine_.rapid[i] * machine_.rapid_override / 60, a = machine_.accel[i],
                 j = machine_.jerk[i];
    const double cruise = cruise_speed(0, 0, top, way, a, j);
    const double flat = std::max(0.0, way - 2 * ramp_length(0, cruise, a, j));
    slowest = std::max(slowest, 2 * ramp_time(0, cruise, a, j) + flat / cruise);
  }
  return slowest;
}

}  // namespace proveout::timing
