// The block is 20 mm high: a tip at Z-20.5 goes half a millimetre below its bottom.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(BelowStock, SpeaksOfATipBelowTheBottom) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 25\nstickout = 30\n";
  s.depth = 20.5;
  const Ran below = run_small(s);
  const Finding* f = below.first(FindingKind::below_stock);
  ASSERT_NE(f, nullptr) << below.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_EQ(f->line, 5u);  // the rapid goes down there
  EXPECT_NEAR(f->value, 0.5, 1e-9);
}

// By more than 2 mm it goes into what the work lies on; on a rapid that is said.
TEST(BelowStock, SpeaksOfWhatItLiesOnAsAnError) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 25\nstickout = 30\n";
  for (const double deep : {21.9, 22.1}) {
    s.depth = deep;
    const Ran below = run_small(s);
    const Finding* f = below.first(FindingKind::below_stock);
    ASSERT_NE(f, nullptr) << below.words();
    EXPECT_EQ(f->level, deep > 22 ? Severity::error : Severity::warning) << below.words();
    EXPECT_NE(f->text.find("rapid"), std::string::npos) << f->text;
  }
}

// A drill of 6 mm, 118 degrees: its point is 3 / tan(59 degrees) = 1.803 mm long, and goes through
// as well.
TEST(BelowStock, SilentOfErrorsAboutADrillsPoint) {
  Small s;
  s.shape = "drill";
  s.tool = "diameter = 6\nflute_length = 30\nstickout = 40\ntip_angle = 118\n";
  for (const double deep : {23.7, 23.9}) {
    s.program =
        fmt::format("G21 G90\nT1 M6\nS3000 M3\nG0 X0 Y0 Z5\nG1 Z-{} F200\nG0 Z5\nM30\n", deep);
    const Ran below = run_small(s);
    const Finding* f = below.first(FindingKind::below_stock);
    ASSERT_NE(f, nullptr) << below.words();
    EXPECT_EQ(f->level, deep > 23.803 ? Severity::error : Severity::warning) << below.words();
    EXPECT_EQ(f->text.find("rapid"), std::string::npos) << f->text;
  }
}

TEST(BelowStock, SilentAtTheBottom) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 25\nstickout = 30\n";
  s.depth = 20;
  EXPECT_FALSE(run_small(s).has(FindingKind::below_stock));
}

}  // namespace
}  // namespace proveout::checks
