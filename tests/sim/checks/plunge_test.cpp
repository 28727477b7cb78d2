// Going down by angle, for tools that do not cut at their centre, and by feed.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

// One feed move `way` from X-10 Y0, half a millimetre above the block.
std::string downwards(const char* way) {
  return fmt::format(
      "G21 G90\nT1 M6\nS10000 M3\nG0 X-10 Y0 Z5\nG1 Z0.5 F300\nG1 {} F400\nG0 Z5\nM30\n", way);
}

TEST(Plunge, SpeaksOfABluntToolStraightDown) {
  Small s;
  s.program = downwards("Z-2");
  s.tool += "centre_cutting = false\n";
  const Ran blunt = run_small(s);
  const Finding* f = blunt.first(FindingKind::plunge);
  ASSERT_NE(f, nullptr) << blunt.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->unit, "deg");
  EXPECT_NEAR(f->value, 90, 1e-6);
  EXPECT_NEAR(f->limit, 10, 1e-9);
}

TEST(Plunge, SilentOnARamp) {
  Small s;
  s.tool += "centre_cutting = false\n";
  s.program = downwards("X10 Z-1");  // 1.5 mm over 20 mm: 4.3 degrees
  EXPECT_FALSE(run_small(s).has(FindingKind::plunge));
}

TEST(Plunge, SpeaksBeyondTheToolsPlungeFeed) {
  Small s;
  s.program = downwards("Z-2");
  s.limits = "plunge_feed = 200";
  const Ran down = run_small(s);
  ASSERT_TRUE(down.has(FindingKind::plunge));
  EXPECT_EQ(down.first(FindingKind::plunge)->unit, "mm/min");
  EXPECT_NEAR(down.first(FindingKind::plunge)->value, 400, 8);
  // A drill goes straight down; its limit, where it has one, holds all the same.
  s.tool += "centre_cutting = false\n";
  s.shape = "drill";
  const Ran drilled = run_small(s);
  ASSERT_TRUE(drilled.has(FindingKind::plunge));
  EXPECT_EQ(drilled.first(FindingKind::plunge)->limit, 200);
}

TEST(Plunge, SilentAtTheToolsPlungeFeed) {
  Small s;
  s.program = downwards("Z-2");
  s.limits = "plunge_feed = 400";
  EXPECT_FALSE(run_small(s).has(FindingKind::plunge));
  s.tool += "centre_cutting = false\n";
  s.shape = "drill";
  EXPECT_FALSE(run_small(s).has(FindingKind::plunge));
}

// Without a limit: 0.3 of the greatest chip a tooth in metal, 0.3 x 0.015 x 6 x 2 teeth x 10 000.
TEST(Plunge, WarnsBeyondTheMaterialsRule) {
  Small s;
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-10 Y0 Z5\nG1 Z0.5 F300\nG1 Z-4 F2000\nG0 Z5\nM30\n";
  s.machine = "accel = [9000, 9000, 9000]\nmax_feed = [5000, 5000, 5000]\n";
  const Ran fast = run_small(s);
  const Finding* f = fast.first(FindingKind::plunge);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 2000, 40);
  EXPECT_NEAR(f->limit, 540, 1e-6);
  s.material = "acetal";  // half of 0.03 mm a mm: 1800
  EXPECT_TRUE(run_small(s).has(FindingKind::plunge));
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-10 Y0 Z5\nG1 Z0.5 F300\nG1 Z-4 F500\nG0 Z5\nM30\n";
  EXPECT_FALSE(run_small(s).has(FindingKind::plunge));
  s.material = "6061-T6";
  EXPECT_FALSE(run_small(s).has(FindingKind::plunge));
}

}  // namespace
}  // namespace proveout::checks
