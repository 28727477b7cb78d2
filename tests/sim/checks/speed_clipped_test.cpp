// Spindle speeds outside the spindle's range.
#include <gtest/gtest.h>

#include <utility>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(SpeedClipped, SpeaksOutsideTheRange) {
  Small s;
  s.machine = "spindle = { min_rpm = 8000, max_rpm = 12000 }\n";
  for (const auto& [speed, limit] : {std::pair{18000., 12000.}, std::pair{5000., 8000.}}) {
    s.speed = speed;
    const Ran clipped = run_small(s);
    const Finding* f = clipped.first(FindingKind::speed_clipped);
    ASSERT_NE(f, nullptr) << speed;
    EXPECT_EQ(f->value, speed);
    EXPECT_EQ(f->limit, limit);
    EXPECT_EQ(f->line, 6u);
  }
}

TEST(SpeedClipped, SilentWithinTheRangeAndWithoutSpeed) {
  Small s;
  s.machine = "spindle = { min_rpm = 8000, max_rpm = 12000 }\n";
  const Ran within = run_small(s);
  EXPECT_FALSE(within.has(FindingKind::speed_clipped));
  EXPECT_FALSE(within.unchecked(FindingKind::speed_clipped));
  s.speed = 0;  // spindle-stopped says it
  EXPECT_FALSE(run_small(s).has(FindingKind::speed_clipped));
}

}  // namespace
}  // namespace proveout::checks
