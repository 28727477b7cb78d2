// With a specific force of 1000 N/mm2 whatever the chip, a slot of 6 x 3 at 500 mm/min needs
// 6 * 3 * 500 / 60 s * 1 J/mm3 = 150 W. There is power * efficiency * speed / rated speed.
#include <gtest/gtest.h>

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

TEST(OverPower, SilentWithinTheSpindlesPower) {
  EXPECT_FALSE(run_small(slot_of_150_w(640)).has(FindingKind::over_power));  // 160 W there
}

}  // namespace
}  // namespace proveout::checks
