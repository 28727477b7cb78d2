// Feeds in another material, against arithmetic: what chip and power allow in a full slot, the
// speed from the middle of the material's range, further passes where it is cut too deep.
#include "sim/after/retime.h"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>

#include "parser/base/geometry.h"

namespace proveout::after {
namespace {

// A feed motion of 100 in a full slot, as deep as said, between a rapid and a feed motion in air.
run::JobResult slot(double diameter, float deep) {
  run::JobResult r;
  job::Tool t;
  t.number = 1;
  t.shape = job::ToolShape::flat;
  t.diameter = diameter;
  t.flutes = 2;
  t.flute_length = 8;
  t.stickout = 10;
  r.job.tools.push_back(t);
  r.job.machine.max_feed = Vec3(6000, 6000, 6000);
  r.time_s = 42;
  nc::Program p;
  p.files.push_back("a.nc");
  nc::ModalState state;
  state.tool = 1;
  state.spindle_rpm = 4000;
  state.turn = nc::SpindleTurn::clockwise;
  p.states.push_back(state);
  p.chains.emplace_back();
  const auto move = [&](nc::PathKind kind, const Vec3& from, const Vec3& to, double feed) {
    nc::Motion m;
    m.kind = kind;
    m.start = from;
    m.end = to;
    m.feed = feed;
    p.motions.push_back(m);
  };
  move(nc::PathKind::rapid, {0, 0, 5}, {0, 0, 0}, 0);
  move(nc::PathKind::line, {0, 0, 0}, {100, 0, 0}, 300);
  move(nc::PathKind::line, {100, 0, 0}, {200, 0, 0}, 700);
  run::SetupResult s;
  s.name = "A";
  s.source = std::make_shared<const nc::Program>(p);
  s.cut.motions.resize(3);
  stock::EngagementSample e;
  e.length = 100;
  e.axial_depth = deep;
  e.radial_width = static_cast<float>(diameter);
  e.arc_from = -90;
  e.arc_to = 90;
  e.arc = 180;
  e.removed_mm3 = static_cast<float>(100 * deep * diameter);
  s.cut.samples.push_back(e);
  s.cut.motions[1].sample_count = 1;
  s.cut.motions[1].removed_mm3 = e.removed_mm3;
  r.setups.push_back(std::move(s));
  return r;
}

cutting::Material soft() {
  cutting::Material m;
  m.name = "foam";
  m.kc11 = 0.01;  // neither power nor bend binds
  m.mc = 0;
  m.cutting_speed = {100, 200};
  m.chip_per_mm_diameter = {0.005, 0.01};
  return m;
}

TEST(Retime, TheChipBindsInASoftMaterial) {
  const Retimed r = retime(slot(10, 3), soft());
  ASSERT_EQ(r.setups.size(), 1u);
  const RetimedSetup& s = r.setups[0];
  // 150 m/min on 10 mm, to 10 turns; in a full slot the chip is at most the feed per tooth.
  const double rpm = std::round(1000 * 150 / (pi * 10) / 10) * 10;
  EXPECT_EQ(rpm, 4770);
  EXPECT_DOUBLE_EQ(s.rpm[1], rpm);
  EXPECT_NEAR(s.feed[1], 0.01 * 10 * 2 * rpm, 5);  // down to whole fives
  EXPECT_EQ(std::fmod(s.feed[1], 5), 0);
  EXPECT_EQ(s.binding[1], Binding::chip);
  // A rapid has no feed; a motion that meets nothing keeps its own.
  EXPECT_EQ(s.feed[0], 0);
  EXPECT_EQ(s.feed[2], 700);
  EXPECT_EQ(s.binding[2], Binding::as_programmed);
  EXPECT_EQ(s.extra_passes_s, 0);
  EXPECT_EQ(r.own_time_s, 42);
  EXPECT_DOUBLE_EQ(r.time_s, s.time_s);
  EXPECT_EQ(r.material, "foam");
}

TEST(Retime, TheSpindlesRangeBoundsTheSpeed) {
  run::JobResult job = slot(10, 3);
  job.job.machine.spindle.max_rpm = 3000;
  EXPECT_DOUBLE_EQ(retime(job, soft()).setups[0].rpm[1], 3000);
  EXPECT_NEAR(retime(job, soft()).setups[0].feed[1], 0.1 * 2 * 3000, 5);
  job.job.machine.spindle.max_rpm = 0;
  job.job.machine.spindle.min_rpm = 8000;
  EXPECT_DOUBLE_EQ(retime(job, soft()).setups[0].rpm[1], 8000);
}

TEST(Retime, ThePowerBindsInAHardOne) {
  // Power is specific force times volume by time, where that force does not fall with the chip:
  // 2000 N/mm2 x 10 x 3 mm2 x feed = 240 W.
  run::JobResult job = slot(10, 3);
  job.job.machine.spindle.power_w = 300;
  job.job.machine.spindle.efficiency = 0.8;
  cutting::Material hard = soft();
  hard.kc11 = 2000;
  hard.chip_per_mm_diameter.second = 1;
  const Retimed r = retime(job, hard);
  const double exact = 240.0 * 60 * 1000 / (2000 * 10 * 3);
  EXPECT_EQ(r.setups[0].binding[1], Binding::power);
  EXPECT_NEAR(r.setups[0].feed[1], exact, 5 + 0.02 * exact);
  // Its time is counted under what binds it: 100 mm at that feed, and the ramps.
  const double seconds = r.bound_s[static_cast<std::size_t>(Binding::power)];
  EXPECT_NEAR(seconds, 100 / r.setups[0].feed[1] * 60, 0.5);
}

TEST(Retime, WhereNothingBindsTheMachinesFeedDoes) {
  cutting::Material m = soft();
  m.chip_per_mm_diameter.second = 10;
  const RetimedSetup s = retime(slot(10, 3), m).setups[0];
  EXPECT_EQ(s.feed[1], 6000);
  EXPECT_EQ(s.binding[1], Binding::machine_feed);
}

// The slot's motion led elsewhere; nothing binds but what the test is about.
RetimedSetup led(run::JobResult job, const Vec3& end) {
  nc::Program p = *job.setups[0].source;
  p.motions[1].end = p.motions[2].start = end;
  job.setups[0].source = std::make_shared<const nc::Program>(p);
  cutting::Material m = soft();
  m.chip_per_mm_diameter.second = 10;
  return retime(job, m).setups[0];
}

// The plunge check of a dry run holds the speed downwards: at 45 degrees that is the feed over
// the square root of two, straight down the feed.
TEST(Retime, ThePlungeLimitBindsDownwards) {
  run::JobResult job = slot(10, 3);
  job.job.tools[0].limits.plunge_feed = 200;
  RetimedSetup s = led(job, {100, 0, -100});
  EXPECT_EQ(s.binding[1], Binding::plunge);
  EXPECT_EQ(s.feed[1], 280);  // 282.8, down to whole fives
  EXPECT_EQ(led(job, {0, 0, -50}).feed[1], 200);
  EXPECT_EQ(led(job, {0, 0, 50}).binding[1], Binding::machine_feed);  // up it does not
  EXPECT_EQ(led(job, {100, 0, 0}).feed[1], 6000);
  // The material's own limit takes the place of the tool's.
  job.job.tools[0].limits_in["foam"].plunge_feed = 60;
  EXPECT_EQ(led(job, {0, 0, -50}).feed[1], 60);
  job.job.tools[0].limits_in["foam"].plunge_feed = 3;
  EXPECT_EQ(led(job, {0, 0, -50}).feed[1], 3);
}

// A diagonal may go as fast as its slower axis lets it, not as the fastest axis alone.
TEST(Retime, TheAxesBindAlongTheMove) {
  run::JobResult job = slot(10, 3);
  job.job.machine.max_feed = Vec3(6000, 3000, 1000);
  EXPECT_EQ(led(job, {100, 0, 0}).feed[1], 6000);
  EXPECT_EQ(led(job, {0, 100, 0}).feed[1], 3000);
  EXPECT_EQ(led(job, {100, 100, 0}).feed[1], 4240);  // 3000 times the root of two
  EXPECT_EQ(led(job, {0, 0, 100}).feed[1], 1000);
  job.job.machine.feed_override = 0.5;
  EXPECT_EQ(led(job, {0, 100, 0}).feed[1], 6000);  // the override halves it
}

// A tool that turns backwards some time is a tap: feed over speed is its pitch.
TEST(Retime, ATapKeepsFeedAndSpeed) {
  run::JobResult job = slot(10, 3);
  nc::Program p = *job.setups[0].source;
  nc::ModalState back = p.states[0];
  back.turn = nc::SpindleTurn::counter_clockwise;
  p.states.push_back(back);
  nc::Event e;
  e.kind = nc::EventKind::spindle;
  e.before_motion = 2;
  e.state = 1;
  p.events.push_back(e);
  job.setups[0].source = std::make_shared<const nc::Program>(p);
  const RetimedSetup s = retime(job, soft()).setups[0];
  EXPECT_EQ(s.feed[1], 300);
  EXPECT_EQ(s.rpm[1], 4000);
  EXPECT_EQ(s.binding[1], Binding::as_programmed);
}

TEST(Retime, TooDeepForTheMaterialIsCutInPasses) {
  cutting::Material m = soft();
  m.depth_per_diameter = 0.25;  // 2.5 of 7 mm a pass: three passes, two of them extra
  const Retimed r = retime(slot(10, 7), m);
  EXPECT_EQ(r.setups[0].motions_with_passes, 1u);
  const double one = r.bound_s[static_cast<std::size_t>(Binding::chip)];
  EXPECT_NEAR(r.setups[0].extra_passes_s, 2 * one, 1e-9);
  EXPECT_DOUBLE_EQ(r.time_s, r.setups[0].time_s + r.setups[0].extra_passes_s);
  m.depth_per_diameter = 0.7;
  EXPECT_EQ(retime(slot(10, 7), m).setups[0].motions_with_passes, 0u);
}

TEST(Retime, EachBindingHasItsWord) {
  for (const auto& [binding, word] :
       {std::pair(Binding::chip, "chip"), std::pair(Binding::cutting_speed, "cutting speed"),
        std::pair(Binding::power, "power"), std::pair(Binding::bend, "bend"),
        std::pair(Binding::machine_feed, "machine feed"),
        std::pair(Binding::plunge, "plunge limit"),
        std::pair(Binding::as_programmed, "as programmed (air)")})
    EXPECT_EQ(name(binding), word);
}

}  // namespace
}  // namespace proveout::after
