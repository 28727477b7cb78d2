// M4 with a right-hand cutter (common practice, no source): its edges rub backwards.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(SpindleReversed, SpeaksOnceATool) {
  Small s;
  s.program =
      "G21 G90\nT1 M6\nS10000 M4\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG1 Y-25\nG0 Z5\nM30\n";
  const Ran r = run_small(s);
  const Finding* f = r.first(FindingKind::spindle_reversed);
  ASSERT_NE(f, nullptr) << r.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->count, 1u);
  EXPECT_NEAR(f->value, 2, 0.1);
  EXPECT_FALSE(r.has(FindingKind::spindle_stopped));
}

TEST(SpindleReversed, SilentWithM3) {
  EXPECT_FALSE(run_small(Small()).has(FindingKind::spindle_reversed));
}

}  // namespace
}  // namespace proveout::checks
