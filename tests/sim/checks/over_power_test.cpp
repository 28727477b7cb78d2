// With a specific force of 1000 N/mm2 whatever the chip, a slot of 6 x 3 at 500 mm/min needs
// 6 * 3 * 500 / 60 s * 1 J/mm3 = 150 W. There is power * efficiency * speed / rated speed.
#include <gtest/gtest.h>

#include <cmath>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small slot_of_150_w(int power_w) {
  Small s;
  s.material = "test";
  s.materials = "[materials.\"test\"]\nkc11 = 1000\nmc = 0\ndensity_g_cm3 = 1\n";
  s.depth = 3;
  s.feed = 500;
  s.machine =
      fmt::format("spindle = {{ power_w = {}, efficiency = 0.5, rated_rpm = 20000 }}\n", power_w);
  return s;
}

TEST(OverPower, SpeaksBeyondTheSpindlesPower) {
  const Ran weak = run_small(slot_of_150_w(200));
  const Finding* f = weak.first(FindingKind::over_power);
  ASSERT_NE(f, nullptr) << weak.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_NEAR(f->value, 150, 3);
  EXPECT_NEAR(f->limit, 200 * 0.5 * 10000 / 20000, 1e-9);
}

// The published coefficients' slot: 6 mm, 1.5 deep, three teeth, F1620 S18000 takes 156, 261 or 386
// W (low, likely, high; less the fading of the edge where chips are thin). The level goes by which
// of them is over.
TEST(OverPower, LevelGoesByTheEvidence) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 20\nstickout = 25\n";
  s.depth = 1.5;
  s.speed = 18000;
  s.feed = 1080;  // two teeth: 0.03 mm each; 104, 174, 257 W
  const auto level = [&](int nose_w) {
    Small at = s;
    at.machine = fmt::format(
        "accel = [9000, 9000, 9000]\nspindle = {{ power_w = {}, efficiency = 1, rated_rpm = 100 "
        "}}\n",
        nose_w);
    const Ran ran = run_small(at);
    const Finding* f = ran.first(FindingKind::over_power);
    return f == nullptr ? std::string("nothing") : std::string(name(f->level));
  };
  EXPECT_EQ(level(90), "error");
  EXPECT_EQ(level(130), "warning");
  EXPECT_EQ(level(210), "nothing");
  EXPECT_EQ(level(480), "nothing");
}

// Straight down beside a slot: what lies under the tool is the segment of its circle beyond the
// slot's wall, 10.56 mm2 at 2.4 mm from the slot's middle, and nothing can take more power than
// that segment at 300 mm/min: ktc of 500 N/mm2 on 52.8 mm3/s, kte of 11 N/mm over it 600 times a
// second.
TEST(OverPower, CrescentBesideASlotStaysBelowItsBound) {
  const double a = 3 - 2.4, segment = 9 * std::acos(a / 3) - a * std::sqrt(9 - a * a);
  EXPECT_NEAR(segment, 10.56, 0.01);
  const double bound = 0.5 * segment * 300 / 60 + 11e-3 * 600 * segment;
  for (const char* voxel : {"0.1", "0.18", "0.25", "0.4"}) {
    Small s;
    s.voxel = fmt::format("voxel = {}\n", voxel);
    s.machine =
        "accel = [9000, 9000, 9000]\nspindle = { power_w = 480, efficiency = 1, rated_rpm = 100 "
        "}\n";
    s.program =
        "G21 G90\nT1 M6\nS18000 M3\nG0 X0 Y-25 Z5\nG0 Z-3\nG1 Y25 F900\nG0 Z5\n"
        "G0 X2.4 Y0\nG1 Z0.2 F300\nG1 Z-1.6\nG0 Z5\nM30\n";
    const Ran ran = run_small(s);
    EXPECT_FALSE(ran.has(FindingKind::over_power)) << voxel << "\n" << ran.words();
    double most = 0;
    const run::SetupResult& setup = ran.result->setups[0];
    for (std::size_t i = 0; i < setup.peaks.size(); ++i) {
      if (setup.source->motions[i].line == 10)
        most = std::max<double>(most, setup.peaks[i].power_w);
    }
    EXPECT_NEAR(most, bound, 0.08 * bound) << voxel;
  }
}

// Rapids carry no cutting power, whatever they run through.
TEST(OverPower, RapidsCarryNone) {
  Small s;
  s.program = "G21 G90\nT1 M6\nS18000 M3\nG0 X0 Y-25 Z5\nG0 Z-3\nG0 Y25\nG0 Z5\nM30\n";
  const Ran ran = run_small(s);
  ASSERT_TRUE(ran.has(FindingKind::rapid_contact));
  for (const run::MotionPeak& p : ran.result->setups[0].peaks) {
    EXPECT_EQ(p.power_w, 0);
    EXPECT_EQ(p.force_n, 0);
  }
  EXPECT_EQ(ran.result->setups[0].tools[0].peak.worst.power_w, 0);
}

TEST(OverPower, SilentWithinTheSpindlesPower) {
  EXPECT_FALSE(run_small(slot_of_150_w(640)).has(FindingKind::over_power));  // 160 W there
}

}  // namespace
}  // namespace proveout::checks
