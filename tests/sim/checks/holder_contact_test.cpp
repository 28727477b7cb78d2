// Holder 20 mm across, its face 10 mm above the tip: at 12 mm deep it goes 2 mm into the block.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small deep_slot(double depth) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 10\nstickout = 10\nholder = [[20, 30]]\n";
  s.limits = "axial_depth = 30";
  s.depth = depth;
  return s;
}

TEST(HolderContact, SpeaksOfAHolderInTheBlock) {
  const Ran low = run_small(deep_slot(12));
  const Finding* f = low.first(FindingKind::holder_contact);
  ASSERT_NE(f, nullptr) << low.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 2, 0.25);
  EXPECT_FALSE(low.unchecked(FindingKind::holder_contact));
}

TEST(HolderContact, SilentAboveTheBlock) {
  EXPECT_FALSE(run_small(deep_slot(9)).has(FindingKind::holder_contact));
}

}  // namespace
}  // namespace proveout::checks
