// What a program waits for, against sums by hand, and the limit across an arc of its own.
#include <gtest/gtest.h>

#include <cmath>

#include "sim/timing/plan.h"
#include "sim/timing/range.h"

namespace proveout::timing {
namespace {

class Waiting {
 public:
  Waiting() { program_.states.emplace_back(); }
  Waiting& tool(int number) {
    nc::ModalState s = program_.states.back();
    s.tool = number;
    s.turn = nc::SpindleTurn::stopped;
    return event(nc::EventKind::tool_change, s);
  }
  Waiting& spindle(nc::SpindleTurn turn, double rpm) {
    nc::ModalState s = program_.states.back();
    s.turn = turn;
    s.spindle_rpm = rpm;
    return event(nc::EventKind::spindle, s);
  }
  Waiting& coolant(bool flood) {
    nc::ModalState s = program_.states.back();
    s.flood = flood;
    return event(nc::EventKind::coolant, s);
  }
  Waiting& stop() { return event(nc::EventKind::stop, program_.states.back()); }
  Waiting& move(double mm) {
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.feed = 600;
    m.start = at_;
    at_.x() += mm;
    m.end = at_;
    m.state = static_cast<std::uint32_t>(program_.states.size() - 1);
    program_.motions.push_back(m);
    return *this;
  }
  const nc::Program& program() const { return program_; }

 private:
  Waiting& event(nc::EventKind kind, const nc::ModalState& state) {
    program_.states.push_back(state);
    nc::Event e;
    e.kind = kind;
    e.state = static_cast<std::uint32_t>(program_.states.size() - 1);
    e.before_motion = program_.motions.size();
    program_.events.push_back(e);
    return *this;
  }
  nc::Program program_;
  Vec3 at_ = Vec3::Zero();
};

constexpr auto cw = nc::SpindleTurn::clockwise;
constexpr auto ccw = nc::SpindleTurn::counter_clockwise;
constexpr auto stopped = nc::SpindleTurn::stopped;

job::Machine machine() {
  job::Machine m;
  m.tool_change_s = 6;
  m.waits.spindle_start_s = 1.2;
  m.waits.spindle_stop_s = 0.3;
  m.waits.spindle_rpm_per_s = 6000;
  m.waits.coolant_on_s = 4;
  m.waits.coolant_off_s = 0.5;
  m.waits.program_stop_s = 20;
  return m;
}

double waited(const Waiting& w, const job::Machine& m) {
  double sum = 0;
  for (const Wait& one : plan(w.program(), m).waits) sum += one.time_s;
  return sum;
}

TEST(Waits, EachByItsOwnFigure) {
  const job::Machine m = machine();
  EXPECT_DOUBLE_EQ(waited(Waiting().tool(1), m), 6);
  EXPECT_DOUBLE_EQ(waited(Waiting().tool(1).tool(1), m), 6);  // in the spindle already
  EXPECT_DOUBLE_EQ(waited(Waiting().spindle(cw, 12000), m), 1.2 + 2);
  EXPECT_DOUBLE_EQ(waited(Waiting().spindle(cw, 12000).spindle(cw, 9000), m), 1.2 + 2 + 0.5);
  EXPECT_DOUBLE_EQ(waited(Waiting().spindle(cw, 12000).spindle(stopped, 12000), m),
                   1.2 + 2 + 0.3 + 2);
  EXPECT_DOUBLE_EQ(waited(Waiting().spindle(cw, 3000).spindle(ccw, 3000), m),
                   1.2 + 0.5 + 1.2 + 1);  // through rest to the other side
  EXPECT_DOUBLE_EQ(waited(Waiting().coolant(true).coolant(false), m), 4.5);
  EXPECT_DOUBLE_EQ(waited(Waiting().stop(), m), 20);
  // A change with the spindle turning stops it first.
  EXPECT_DOUBLE_EQ(waited(Waiting().tool(1).spindle(cw, 6000).tool(2).spindle(cw, 6000), m),
                   6 + 1.2 + 1 + 0.3 + 1 + 6 + 1.2 + 1);
}

TEST(Waits, AToolChangeAloneAndASpinUpAsEver) {
  job::Machine m;
  m.tool_change_s = 60;
  m.spindle.spin_up_s = 4;
  EXPECT_DOUBLE_EQ(waited(Waiting()
                              .tool(1)
                              .spindle(cw, 9000)
                              .coolant(true)
                              .spindle(cw, 12000)
                              .stop()
                              .coolant(false)
                              .tool(2)
                              .spindle(cw, 9000)
                              .spindle(stopped, 9000),
                          m),
                   60 + 4 + 60 + 4);
}

// The machine stands while it waits; where coolant takes no time the path goes straight on.
TEST(Waits, TheMachineStandsForThem) {
  const Waiting w = Waiting().move(50).coolant(true).move(50);
  job::Machine m = machine();
  const Plan stands = plan(w.program(), m);
  EXPECT_EQ(stands.motions[0].exit_speed, 0);
  EXPECT_DOUBLE_EQ(stands.motions[1].start_s, stands.motions[0].time_s + 4);
  m.waits.coolant_on_s = 0;
  EXPECT_GT(plan(w.program(), m).motions[0].exit_speed, 0);
}

TEST(Waits, LowAndHighTakeThemAlong) {
  const Waiting w = Waiting().spindle(cw, 12000).coolant(true).stop().move(1);
  const job::Machine m = machine();
  EXPECT_DOUBLE_EQ(waited(w, more_sluggish(m)), sluggish_waits * waited(w, m));
  EXPECT_DOUBLE_EQ(waited(w, livelier(m)), livelier_waits * waited(w, m));
}

// v^2 / r: round a circle of 2 mm at most 200 mm/s2 across give 20 mm/s, and 800 give 40.
TEST(ArcAccel, BoundsTheSpeedRoundAnArcAndNothingElse) {
  nc::Program p;
  p.states.emplace_back();
  nc::Motion arc;
  arc.kind = nc::PathKind::arc;
  arc.start = arc.end = Vec3(2, 0, 0);
  arc.sweep = 20 * pi;
  arc.feed = 6000;
  p.motions.push_back(arc);
  job::Machine m;
  m.max_feed = Vec3::Constant(1e5);
  m.accel = Vec3::Constant(800);
  EXPECT_NEAR(plan(p, m).motions[0].cruise_speed, 40, 1e-5);
  m.arc_accel = 200;
  EXPECT_NEAR(plan(p, m).motions[0].cruise_speed, 20, 1e-5);
  EXPECT_EQ(plan(p, m).motions[0].acceleration, 800);  // along the path
  p.motions[0].kind = nc::PathKind::line;
  p.motions[0].end = Vec3(100, 0, 0);
  const double straight = plan(p, m).time_s;
  m.arc_accel = 0;
  EXPECT_EQ(plan(p, m).time_s, straight);
}

}  // namespace
}  // namespace proveout::timing
