// In a full slot the thickest chip is the feed per tooth: F / (S * flutes). The material's rule for
// 6 mm is 0.03 to 0.09 mm; thick begins a quarter above it.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(ChipThick, SpeaksAboveTheMaterialsRule) {
  Small s;
  s.speed = 1000;
  s.feed = 500;
  const Ran thick = run_small(s);
  const Finding* f = thick.first(FindingKind::chip_thick);
  ASSERT_NE(f, nullptr) << thick.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 0.25, 0.01);
  EXPECT_NEAR(f->limit, 1.25 * 0.015 * 6, 1e-9);
}

TEST(ChipThick, SilentWithinTheMaterialsRule) {
  Small s;
  s.speed = 10000;
  s.feed = 1200;  // 0.06 mm
  EXPECT_FALSE(run_small(s).has(FindingKind::chip_thick));
}

}  // namespace
}  // namespace proveout::checks
