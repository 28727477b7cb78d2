// A spindle without speed, or that was never started.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(SpindleStopped, SpeaksWithoutSpeedOrStart) {
  Small s;
  s.speed = 0;
  const Ran still = run_small(s);
  const Finding* f = still.first(FindingKind::spindle_stopped);
  ASSERT_NE(f, nullptr) << still.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 2, 0.05);
  EXPECT_NE(f->text.find("has no speed"), std::string::npos);
  s.program = "G21 G90\nT1 M6\nS9000\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nM30\n";
  const Ran off = run_small(s);
  f = off.first(FindingKind::spindle_stopped);
  ASSERT_NE(f, nullptr) << off.words();
  EXPECT_NE(f->text.find("stands still"), std::string::npos);
}

TEST(SpindleStopped, SilentWhileItTurnsAndInAir) {
  Small s;
  EXPECT_FALSE(run_small(s).has(FindingKind::spindle_stopped));
  s.program =
      "G21 G90\nT1 M6\nG0 X0 Y-25 Z5\nG1 Y25 F900\nS9000 M3\nG0 Y-25\nG0 Z-2\nG1 Y25\nG0 Z5\nM30\n";
  EXPECT_FALSE(run_small(s).has(FindingKind::spindle_stopped));
}

}  // namespace
}  // namespace proveout::checks
