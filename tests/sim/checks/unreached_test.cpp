// What a run says of surface no setup or tool reaches.
#include <gtest/gtest.h>

#include "tests/sim/checks/slotted_plate.h"

namespace proveout::checks {
namespace {

TEST(Unreached, SpeaksOfASlotTooNarrowAndAnUndersideNobodySees) {
  const run::JobResult r = run_with(6, 20, false, 1.5);
  const Finding* tight = of(r, FindingKind::unreached, "too tight");
  ASSERT_NE(tight, nullptr);
  EXPECT_NEAR(tight->value, 600, 0.15 * 600);
  EXPECT_EQ(tight->level, Severity::warning);
  const Finding* hidden = of(r, FindingKind::unreached, "undercut");
  ASSERT_NE(hidden, nullptr);
  EXPECT_NEAR(hidden->value, 40 * 30, 0.02 * 1200);
}

TEST(Unreached, AFaceThatIsTheBlanksOwnNeedsNoTool) {
  const run::JobResult r = run_with(6, 20, false);
  EXPECT_NE(of(r, FindingKind::unreached, "too tight"), nullptr);
  EXPECT_EQ(of(r, FindingKind::unreached, "undercut"), nullptr);
}

TEST(Unreached, SilentWhereBothSidesAreMilledWithACutterThatFits) {
  const run::JobResult r = run_with(3.5, 14, true);
  EXPECT_EQ(of(r, FindingKind::unreached, "too tight"), nullptr);
  EXPECT_EQ(of(r, FindingKind::unreached, "undercut"), nullptr);
  for (const run::NotChecked& n : r.not_checked) {
    EXPECT_NE(n.what, "unreached");
    EXPECT_NE(n.what, "over-reach");
  }
}

}  // namespace
}  // namespace proveout::checks
