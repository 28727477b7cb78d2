// The planner, motion by motion: memory grows with the look-ahead (or, where that is the whole
// program, with the longest stretch between two stops), not with the program. plan() is made of
// this. The rules stand in docs/timing.md. mm, s, mm/s.
#pragma once

#include <deque>
#include <functional>
#include <vector>

#include "sim/timing/limits.h"
#include "sim/timing/plan.h"

namespace proveout::timing {

class Stream {
 public:
  // A motion is planned: its number as counted by add() from 0, its times (start_s is left 0), its
  // length and the speed it was commanded.
  using Planned = std::function<void(std::size_t number, const TimedMotion& motion, double length,
                                     double commanded)>;

  Stream(const job::Machine& machine, Planned planned);
  // The machine stands still before the next motion: a wait, a tool change, the end.
  void stand();
  void add(const nc::Motion& motion, const nc::ModalState& state);
  void finish();                                         // plans what is left
  std::size_t pending() const { return items_.size(); }  // motions held

 private:
  struct Item {
    std::size_t number = 0;
    double length = 0;
    PathLimits limits;
    Reach reach;
    double joint = 0;  // speed limit at its start; 0 where the machine stands
    double work = 0;   // 2 a L of the items before it, since the last stop
    double meets =
        -1;  // with jerk: speed at its start from which all behind can be met; < 0: not known
    bool rapid = false;
    double by_axis_s = -1;  // time of a rapid by axis; negative: not one
  };

  double joint_speed(const nc::Motion& motion, const nc::ModalState& state, bool by_axis) const;
  double by_axis_time(const nc::Motion& motion) const;
  void plan_first(std::size_t known);
  void plan_first_with(double meets);
  void plan_side_by_side(std::size_t window);
  void plan_all();
  double meetable(std::size_t known);
  double meetable_with_jerk(std::size_t known);
  void settle(std::size_t known);
  void give(const Item& item, double entry, double exit);
  static SlowedBy reason(const PathLimits& limits, double entry, double cruise, double exit);

  const job::Machine machine_;
  Planned planned_;
  std::deque<Item> items_;
  // Joints behind the first item with limit^2 + work, rising: the least counts. Numbers count items
  // since the last stop.
  std::deque<std::pair<std::size_t, double>> least_;
  std::size_t first_ = 0;  // number of items_.front() since the last stop
  // With jerk: items numbered below keep their `meets` whatever is added.
  std::size_t settled_ = 0;
  double total_work_ = 0;  // up to the end of the last item
  double entry_ = 0;       // speed at the start of the first item
  std::size_t added_ = 0;
  bool stands_ = true, jerk_ = false;
  // The motion added last, for the joint.
  Vec3 last_tangent_ = Vec3::Zero();
  double last_top_ = 0;
  bool last_stops_ = true;  // exact stop or by axis: the next joint is 0
  std::vector<double> speeds_;
  static constexpr std::size_t side_by_side = 4;  // windows gone through at once
  struct Step {
    Reach reach;
    double joint = 0;
  };
  std::vector<Step> windows_;  // of those, close together
};

}  // namespace proveout::timing
