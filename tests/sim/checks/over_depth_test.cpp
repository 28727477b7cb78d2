// Deeper than the tool may go: told at the slot's line with its depth, and not within the limit.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(OverDepth, SpeaksBeyondTheToolsLimit) {
  Small s;
  s.depth = 3;
  s.limits = "axial_depth = 2";
  const Ran deep = run_small(s);
  const Finding* f = deep.first(FindingKind::over_depth);
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->tool, 1);
  EXPECT_NEAR(f->value, 3, 0.05);
  EXPECT_EQ(f->limit, 2);
}

TEST(OverDepth, SilentWithinTheToolsLimit) {
  Small s;
  s.depth = 3;
  s.limits = "axial_depth = 3";
  EXPECT_FALSE(run_small(s).has(FindingKind::over_depth));
  // A limit of the tool's own in this material comes before the general one.
  s.limits = "axial_depth = 2";
  s.tool +=
      "limits_in = { \"6061-T6\" = { axial_depth = 3, radial_width = 6, plunge_feed = 9 } }\n";
  EXPECT_FALSE(run_small(s).has(FindingKind::over_depth));
}

TEST(OverDepth, SilentOnATallSkin) {
  Small s;
  s.limits = "axial_depth = 2";
  // 0.15 mm off the block's left side (x = -20), 10 mm deep.
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-22.85 Y-25 Z5\nG0 Z-10\nG1 Y25 F900\nG0 Z5\nM30\n";
  EXPECT_FALSE(run_small(s).has(FindingKind::over_depth));
  // 1.5 mm off it is one.
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-21.5 Y-25 Z5\nG0 Z-10\nG1 Y25 F900\nG0 Z5\nM30\n";
  const Ran deep = run_small(s);
  ASSERT_TRUE(deep.has(FindingKind::over_depth));
  EXPECT_NEAR(deep.first(FindingKind::over_depth)->value, 10, 0.05);
}

// The material's own rule, half a diameter in a full slot, where the tool has no limit.
TEST(OverDepth, SpeaksOfAFullSlotBeyondTheMaterialsRule) {
  Small s;
  s.depth = 4;
  const Ran deep = run_small(s);
  const Finding* f = deep.first(FindingKind::over_depth);
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_NEAR(f->value, 4, 0.05);
  EXPECT_NEAR(f->limit, 3, 1e-9);
  s.depth = 2.9;
  EXPECT_FALSE(run_small(s).has(FindingKind::over_depth));
}

// A slot 1.5 deep under a sliver 0.3 mm wide and 2 high is no slot 3.5 deep.
TEST(OverDepth, SilentOnASliverAboveASlot) {
  Small s;
  s.voxel = "voxel = 0.15\n";
  s.program =
      "G21 G90\nT1 M6\nS18000 M3\nG0 X0.3 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nG0 X0 Y-25\n"
      "G0 Z-3.5\nG1 Y25\nG0 Z5\nM30\n";
  const Ran ran = run_small(s);
  EXPECT_FALSE(ran.has(FindingKind::over_depth)) << ran.words();
}

}  // namespace
}  // namespace proveout::checks
