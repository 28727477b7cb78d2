// 100 mm of travel a side, the zero in the middle of X: X60 runs 10 mm beyond, X50 reaches the end.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small to_x(int x) {
  Small s;
  s.machine = "travel = [100, 100, 100]\n";
  s.setup = "zero_in_machine = [50, 50, 40]\n";
  s.program = fmt::format(
      "G21 G90\nT1 M6\nS10000 M3\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nG0 X{}\nM30\n", x);
  return s;
}

TEST(OverTravel, SpeaksBeyondTheTravel) {
  const Ran beyond = run_small(to_x(60));
  const Finding* f = beyond.first(FindingKind::over_travel);
  ASSERT_NE(f, nullptr) << beyond.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 8u);
  EXPECT_EQ(f->detail, "x");
  EXPECT_NEAR(f->value, 10, 1e-9);
}

TEST(OverTravel, SilentAtItsEnd) {
  EXPECT_FALSE(run_small(to_x(50)).has(FindingKind::over_travel));
}

}  // namespace
}  // namespace proveout::checks
