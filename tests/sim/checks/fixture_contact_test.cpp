// The clamp stands 8 mm to the right of the slot and 10 mm above the top: the holder's radius of 10
// reaches 2 mm over it, its face, 12 - 3 = 9 mm above the top, 1 mm below it. The way out is 1 mm
// up. Meshes, and the clearance beside fixtures: tests/sim/pipeline/space_test.cpp.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small beside_a_clamp(const char* from_x) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 10\nstickout = 12\nholder = [[20, 30]]\n";
  s.limits = "axial_depth = 30";
  s.depth = 3;
  s.setup = fmt::format(
      "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[{}, -5, -20], [30, 5, 10]]\n", from_x);
  return s;
}

TEST(FixtureContact, SpeaksOfAHolderInTheClamp) {
  const Ran hit = run_small(beside_a_clamp("8"));
  const Finding* f = hit.first(FindingKind::fixture_contact);
  ASSERT_NE(f, nullptr) << hit.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 1, 1e-9);
  EXPECT_NE(f->text.find("the holder goes 1.00 mm into the fixture 'clamp'"), std::string::npos)
      << f->text;
}

TEST(FixtureContact, SilentBesideIt) {
  EXPECT_FALSE(run_small(beside_a_clamp("10.1")).has(FindingKind::fixture_contact));
}

}  // namespace
}  // namespace proveout::checks
