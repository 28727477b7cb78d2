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
  EXPECT_NE(f->text.find("likely to sing"), std::string::npos) << f->text;
  EXPECT_NE(f->text.find("no known cut"), std::string::npos) << f->text;
  // The speed of the cut is said, and no other: none is advised without a measured pitch.
  EXPECT_EQ(f->text.find('S'), f->text.find("S10000")) << f->text;
  EXPECT_EQ(f->text.rfind('S'), f->text.find("S10000")) << f->text;
}

// A slot people cut every day, 1.5 mm deep with 6 mm: nothing to say, but that nobody listened.
TEST(Chatter, SilentOnAnOrdinarySlotOfWhichNothingIsKnown) {
  Small s;
  s.depth = 1.5;
  s.speed = 18000;
  const Ran ran = run_small(s);
  EXPECT_FALSE(ran.has(FindingKind::chatter)) << ran.words();
  EXPECT_TRUE(ran.unchecked(FindingKind::chatter));
}

// The same slot sings where a shallower one was heard to, and is quiet where it was heard quiet.
TEST(Chatter, GoesByTheCutsHeard) {
  Small s;
  s.depth = 1.5;
  s.speed = 18000;
  const auto heard = [](const char* how, double depth) {
    return fmt::format(
        "[[machine.known_cuts]]\ntool = 1\nrpm = 18000\ndepth = {}\nheard = \"{}\"\n", depth, how);
  };
  s.machine = heard("sings", 0.8);
  const Ran sings = run_small(s);
  const Finding* f = sings.first(FindingKind::chatter);
  ASSERT_NE(f, nullptr) << sings.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_NE(f->text.find("T1 0.8 mm deep at S18000, sings"), std::string::npos) << f->text;
  EXPECT_FALSE(sings.unchecked(FindingKind::chatter));
  s.machine = heard("quiet", 1.5);
  const Ran quiet = run_small(s);
  EXPECT_FALSE(quiet.has(FindingKind::chatter)) << quiet.words();
  s.machine = "[[machine.known_cuts]]\ntool = 9\nrpm = 1\ndepth = 1\nheard = \"quiet\"\n";
  EXPECT_TRUE(run_small(s).unchecked(FindingKind::chatter));  // no such tool
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
