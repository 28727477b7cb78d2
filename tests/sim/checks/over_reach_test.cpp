// Tools that stand far out: 20 / 6 = 3.3, 30 / 6 = 5, 54 / 6 = 9 diameters.
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/sim/checks/slotted_plate.h"

namespace proveout::checks {
namespace {

TEST(OverReach, SpeaksByDiametersOut) {
  const run::JobResult far = run_with(6, 30, false);
  const Finding* note = of(far, FindingKind::over_reach);
  ASSERT_NE(note, nullptr);
  EXPECT_EQ(note->level, Severity::note);
  EXPECT_NEAR(note->value, 5, 1e-9);
  const run::JobResult special = run_with(6, 54, false);
  const Finding* warning = of(special, FindingKind::over_reach);
  ASSERT_NE(warning, nullptr);
  EXPECT_EQ(warning->level, Severity::warning);
  EXPECT_NEAR(warning->value, 9, 1e-9);
}

// One tool is set once: two setups that use it have one finding of it.
TEST(OverReach, IsToldOnceForATool) {
  const run::JobResult r = run_with(6, 30, true);
  ASSERT_EQ(r.setups.size(), 2u);
  EXPECT_EQ(std::count_if(r.findings.begin(), r.findings.end(),
                          [](const Finding& f) { return f.kind == FindingKind::over_reach; }),
            1);
}

TEST(OverReach, SilentUpToFourDiameters) {
  EXPECT_EQ(of(run_with(6, 20, false), FindingKind::over_reach), nullptr);
}

}  // namespace
}  // namespace proveout::checks
