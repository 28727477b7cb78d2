// Flutes of 5 mm in a slot of 8: the shank, as thick as the tool, goes 3 mm into what they left.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small short_flutes() {
  Small s;
  s.tool = "diameter = 6\nflute_length = 5\nstickout = 30\n";
  s.limits = "axial_depth = 10";
  s.depth = 8;
  return s;
}

TEST(ShankContact, SpeaksOfMaterialAboveTheFlutes) {
  const Ran one_pass = run_small(short_flutes());
  const Finding* f = one_pass.first(FindingKind::shank_contact);
  ASSERT_NE(f, nullptr) << one_pass.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 3, 0.25);
}

TEST(ShankContact, SilentInTwoPasses) {
  Small s = short_flutes();
  s.program =
      "G21 G90\nT1 M6\nS10000 M3\nG0 X0 Y-25 Z5\nG0 Z-4\nG1 Y25 F900\nG0 Z5\nG0 Y-25\nG0 Z-8\n"
      "G1 Y25\nG0 Z5\nM30\n";
  EXPECT_FALSE(run_small(s).has(FindingKind::shank_contact));
}

}  // namespace
}  // namespace proveout::checks
