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

TEST(BelowStock, SilentAtTheBottom) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 25\nstickout = 30\n";
  s.depth = 20;
  EXPECT_FALSE(run_small(s).has(FindingKind::below_stock));
}

}  // namespace
}  // namespace proveout::checks
