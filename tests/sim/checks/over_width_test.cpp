// Wider than the tool may go: a full slot is as wide as the tool.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(OverWidth, SpeaksBeyondTheToolsLimit) {
  Small s;
  s.limits = "radial_width = 4";
  const Ran wide = run_small(s);
  const Finding* f = wide.first(FindingKind::over_width);
  ASSERT_NE(f, nullptr) << wide.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 6, 0.25 * 0.25 + 0.01);
  EXPECT_EQ(f->limit, 4);
}

TEST(OverWidth, SilentAtTheToolsLimitAndWithoutOne) {
  Small s;
  EXPECT_FALSE(run_small(s).has(FindingKind::over_width));
  s.limits = "radial_width = 6";
  EXPECT_FALSE(run_small(s).has(FindingKind::over_width));
}

}  // namespace
}  // namespace proveout::checks
