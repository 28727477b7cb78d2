// Chatter: a long thin tool is told, a short thick one is not.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(Chatter, SpeaksOfALongThinTool) {
  Small s;
  s.tool = "diameter = 3\nflute_length = 10\nstickout = 45\n";
  s.limits = "axial_depth = 5";
  s.depth = 3;
  s.feed = 300;
  const Ran slender = run_small(s);
  const Finding* f = slender.first(FindingKind::chatter);
  ASSERT_NE(f, nullptr) << slender.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_NEAR(f->value, 3, 0.05);
  EXPECT_LT(f->limit, f->value);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NE(f->text.find("calm"), std::string::npos);
}

TEST(Chatter, SilentOnAShortThickTool) {
  Small s;
  s.limits = "axial_depth = 5";
  s.tool = "diameter = 12\nflute_length = 10\nstickout = 20\n";
  s.depth = 1.3;
  s.feed = 300;
  EXPECT_FALSE(run_small(s).has(FindingKind::chatter));
}

}  // namespace
}  // namespace proveout::checks
