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

// Straight down the floor alone is met until the tool stands still: the speed it goes at there is
// told, not that of the last stretch, where it brakes. 500 mm/s2 from the speed asked for to a
// stand take v^2/1000 mm, which is less than the way down.
TEST(Plunge, SpeedIsThatOfTheWholeWayDown) {
  struct Down {
    double diameter, to, feed;
  };
  for (const Down& d : {Down{6, -2, 2000}, Down{3, -1.4, 1500}, Down{10, -6, 2600}}) {
    Small s;
    s.tool = fmt::format("diameter = {}\nflute_length = 15\nstickout = 30\n", d.diameter);
    s.program = fmt::format("G21 G90\nT1 M6\nS10000 M3\nG0 X-10 Y0 Z5\nG1 Z{} F{}\nG0 Z5\nM30\n",
                            d.to, d.feed);
    s.machine = "accel = [500, 500, 500]\nmax_feed = [5000, 5000, 5000]\n";
    const Ran ran = run_small(s);
    const Finding* f = ran.first(FindingKind::plunge);
    ASSERT_NE(f, nullptr) << d.diameter << "\n" << ran.words();
    EXPECT_NEAR(f->value, d.feed, 0.02 * d.feed) << d.diameter;
  }
}

// Down a wall that stands already the tool meets its skin at most.
TEST(Plunge, SilentBesideAWallThatStands) {
  for (const double depth : {1.5, 4.0}) {
    Small s;
    s.machine = "accel = [9000, 9000, 9000]\nmax_feed = [5000, 5000, 5000]\n";
    s.program = fmt::format(
        "G21 G90\nT1 M6\nS10000 M3\nG0 X0.13 Y-25 Z5\nG0 Z-{0}\nG1 Y25 F400\nG0 Z5\nG0 X0.13 Y0\n"
        "G1 Z-{0} F2500\nG0 Z5\nM30\n",
        depth);
    const Ran ran = run_small(s);
    EXPECT_FALSE(ran.has(FindingKind::plunge)) << ran.words();
  }
}

}  // namespace
}  // namespace proveout::checks
