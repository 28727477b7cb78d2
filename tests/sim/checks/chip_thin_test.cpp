// In a full slot the thickest chip is the feed per tooth: F / (S * flutes). The material's rule for
// 6 mm is 0.03 to 0.09 mm; thin begins at half of it.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(ChipThin, SpeaksBelowTheMaterialsRule) {
  Small s;
  s.speed = 20000;
  s.feed = 500;
  const Ran thin = run_small(s);
  const Finding* f = thin.first(FindingKind::chip_thin);
  ASSERT_NE(f, nullptr) << thin.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_NEAR(f->value, 0.0125, 5e-4);
  EXPECT_NEAR(f->limit, 0.5 * 0.005 * 6, 1e-9);
}

// Far below, most of the time: a feed in another unit is a 25th of what is meant.
TEST(ChipThin, WarnsOfAFeedInAnotherUnit) {
  Small s;
  s.speed = 20000;
  s.feed = 100;
  const Ran unit = run_small(s);
  const Finding* f = unit.first(FindingKind::chip_thin);
  ASSERT_NE(f, nullptr) << unit.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_NEAR(f->value, 0.0025, 1e-4);
  EXPECT_NEAR(f->limit, 0.005 * 6 / 8, 1e-9);
  EXPECT_NE(f->text.find("another unit"), std::string::npos) << f->text;
}

TEST(ChipThin, SilentWithinTheMaterialsRule) {
  Small s;
  s.speed = 10000;
  s.feed = 1200;  // 0.06 mm
  EXPECT_FALSE(run_small(s).has(FindingKind::chip_thin));
}

// Straight down a mill goes slower on purpose: most of the time here, between cuts at a good chip.
// The same feeds the other way round are told of.
TEST(ChipThin, SlowPlungesAreNoThinCuts) {
  const auto program = [](int down, int across) {
    std::string out = "G21 G90\nT1 M6\nS10000 M3\n";
    for (int i = 0; i < 6; ++i) {
      out += fmt::format("G0 X{} Y-8 Z1\nG1 Z-2 F{}\nY8 F{}\nG0 Z5\n", 6.5 * i - 17, down, across);
    }
    return out + "M30\n";
  };
  Small s;
  s.program = program(60, 1200);
  EXPECT_FALSE(run_small(s).has(FindingKind::chip_thin)) << run_small(s).words();
  s.program = program(400, 200);
  EXPECT_TRUE(run_small(s).has(FindingKind::chip_thin));
}

}  // namespace
}  // namespace proveout::checks
