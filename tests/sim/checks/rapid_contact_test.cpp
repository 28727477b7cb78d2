// A rapid across the block, 2 mm deep, takes what the slot would: 6 x 30 x 2 mm3. Rapids on bent
// ways and first moves: tests/sim/pipeline/space_test.cpp.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small across(const char* height) {
  Small s;
  s.program =
      fmt::format("G21 G90\nT1 M6\nS10000 M3\nG0 X0 Y-25 Z5\nG0 {}\nG0 Y25\nG0 Z5\nM30\n", height);
  return s;
}

TEST(RapidContact, SpeaksOfARapidThroughTheBlock) {
  const Ran through = run_small(across("Z-2"));
  const Finding* f = through.first(FindingKind::rapid_contact);
  ASSERT_NE(f, nullptr) << through.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 6 * 30 * 2, 0.02 * 360);
}

TEST(RapidContact, SilentJustAboveTheBlock) {
  EXPECT_FALSE(run_small(across("Z0.01")).has(FindingKind::rapid_contact));
}

}  // namespace
}  // namespace proveout::checks
