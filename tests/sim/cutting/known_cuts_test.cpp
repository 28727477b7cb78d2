// What cuts heard at a machine say of others. The figures of the table were worked out apart from
// this code (by the same law, on another grid): 6 mm, three teeth, 25 mm out with 20 mm of flute,
// in 6061, a limit of 0.34 mm in a full slot by the bare model.
#include "sim/cutting/known_cuts.h"

#include <gtest/gtest.h>

#include <cmath>

namespace proveout::cutting {
namespace {

job::Tool six(int number, double stickout) {
  job::Tool t;
  t.number = number;
  t.diameter = 6;
  t.flutes = 3;
  t.flute_length = 20;
  t.stickout = stickout;
  return t;
}

job::Job shop() {
  job::Job j;
  j.stock.material = "6061-T6";
  int number = 1;
  for (const double out : {25.0, 32.0, 45.0, 60.0}) j.tools.push_back(six(number++, out));
  return j;
}

job::KnownCut heard(int tool, double depth, bool sings, double width = 0) {
  job::KnownCut c;
  c.tool = tool;
  c.rpm = 18000;
  c.depth = depth;
  c.width = width;
  c.sings = sings;
  return c;
}

AskedCut slot(double depth) { return {18000, depth, 6, -90, 90, true}; }
AskedCut side() {
  const double arc = std::acos(1 - 2 * 0.6 / 6) * deg_per_rad;
  return {18000, 6, 0.6, -90, -90 + arc, true};
}

double of(const job::Job& j, int tool, const AskedCut& cut) {
  const Material m = *find_material("6061-T6", {});
  const job::Tool& t = j.tools[static_cast<std::size_t>(tool - 1)];
  const double least =
      LoadModel(t, m).least_limit_depth_mm(cut.arc_from, cut.arc_to, cut.clockwise);
  return KnownCuts(j, t, m).sings(cut, least);
}

struct Row {
  const char* what;
  std::vector<job::KnownCut> known;
  double slot_15, slot_4, out_32, out_45, out_60, side;
};

TEST(KnownCuts, TableOfTheDesign) {
  const Row rows[] = {{"nothing heard", {}, 0.53, 0.81, 0.67, 0.86, 0.95, 0.14},
                      {"1.5 quiet", {heard(1, 1.5, false)}, 0.16, 0.60, 0.37, 0.71, 0.90, 0.00},
                      {"1.5 quiet, 3 sings",
                       {heard(1, 1.5, false), heard(1, 3, true)},
                       0.31,
                       0.88,
                       0.60,
                       0.92,
                       0.99,
                       0.00},
                      {"1.0 sings", {heard(1, 1, true)}, 0.93, 1.00, 0.97, 1.00, 1.00, 0.34}};
  for (const Row& r : rows) {
    job::Job j = shop();
    j.machine.known_cuts = r.known;
    constexpr double slack = 0.04;
    EXPECT_NEAR(of(j, 1, slot(1.5)), r.slot_15, slack) << r.what;
    EXPECT_NEAR(of(j, 1, slot(4)), r.slot_4, slack) << r.what;
    EXPECT_NEAR(of(j, 2, slot(1.5)), r.out_32, slack) << r.what;
    EXPECT_NEAR(of(j, 3, slot(1.5)), r.out_45, slack) << r.what;
    EXPECT_NEAR(of(j, 4, slot(1.5)), r.out_60, slack) << r.what;
    EXPECT_NEAR(of(j, 1, side()), r.side, slack) << r.what;
  }
}

TEST(KnownCuts, TheBareLimitAndItsSpread) {
  const job::Job j = shop();
  const Material m = *find_material("6061-T6", {});
  const double least = LoadModel(j.tools[0], m).least_limit_depth_mm(-90, 90, true);
  EXPECT_NEAR(least, 0.34, 0.02);
  const Band b = KnownCuts(j, j.tools[0], m).limit_depth(least);
  EXPECT_NEAR(b.low, 0.31, 0.03);
  EXPECT_NEAR(b.likely, 1.4, 0.1);
  EXPECT_NEAR(b.high, 6.1, 0.4);
}

TEST(KnownCuts, AQuietCutIsQuietWithoutSums) {
  job::Job j = shop();
  j.machine.known_cuts = {heard(2, 1.5, false)};
  const Material m = *find_material("6061-T6", {}), other = *find_material("brass", {});
  const KnownCuts known(j, j.tools[1], m);
  EXPECT_TRUE(known.known_quiet(slot(1.5)));
  EXPECT_TRUE(known.known_quiet(slot(0.4)));
  EXPECT_FALSE(known.known_quiet(slot(1.6)));                            // deeper
  EXPECT_FALSE(known.known_quiet({12000, 1.5, 6, -90, 90, true}));       // another speed
  EXPECT_TRUE(KnownCuts(j, j.tools[0], m).known_quiet(slot(1.5)));       // shorter
  EXPECT_FALSE(KnownCuts(j, j.tools[2], m).known_quiet(slot(1.5)));      // longer
  EXPECT_FALSE(KnownCuts(j, j.tools[1], other).known_quiet(slot(1.5)));  // another material
  j.machine.known_cuts = {heard(2, 1.5, true)};
  EXPECT_FALSE(KnownCuts(j, j.tools[1], m).known_quiet(slot(0.1)));
}

// More heard quiet never makes a cut likelier to sing, and the other way round.
TEST(KnownCuts, HearingMovesOneWay) {
  job::Job j = shop();
  double before = of(j, 1, slot(2));
  for (const double depth : {0.5, 1.0, 2.0, 3.0}) {
    j.machine.known_cuts.push_back(heard(1, depth, false));
    const double now = of(j, 1, slot(2));
    EXPECT_LE(now, before + 1e-9) << depth;
    before = now;
  }
  j.machine.known_cuts.push_back(heard(1, 4, true));
  EXPECT_GE(of(j, 1, slot(2)), before);
}

TEST(KnownCuts, PitchSaysWhoseItIs) {
  job::Job j = shop();
  const Material m = *find_material("6061-T6", {});
  const double clamped = beam_of(j.tools[0]).tip_modes(1).front().frequency;
  j.machine.known_cuts = {heard(1, 2, true)};
  j.machine.known_cuts[0].pitch_hz = 0.7 * clamped;
  EXPECT_EQ(KnownCuts(j, j.tools[0], m).tool_pitch_hz(), 0.7 * clamped);
  EXPECT_EQ(KnownCuts(j, j.tools[1], m).tool_pitch_hz(), 0);  // longer: another pitch
  // A frame that sings at 2 mm sings with a short stiff tool as well.
  j.tools.push_back(six(9, 21));
  j.tools.back().diameter = 10;
  const double least = LoadModel(j.tools.back(), m).least_limit_depth_mm(-90, 90, true);
  const double by_tool =
      KnownCuts(j, j.tools.back(), m).sings({18000, 4, 10, -90, 90, true}, least);
  j.machine.known_cuts[0].pitch_hz = 310;
  const double by_frame =
      KnownCuts(j, j.tools.back(), m).sings({18000, 4, 10, -90, 90, true}, least);
  EXPECT_GT(by_frame, 0.8);
  EXPECT_LT(by_tool, by_frame);
}

TEST(KnownCuts, OnesThatCannotBeUsedAreNamed) {
  job::Job j = shop();
  j.machine.known_cuts = {heard(77, 1, false), heard(1, 1, false)};
  j.machine.known_cuts[1].material = "cheese";
  const KnownCuts known(j, j.tools[0], *find_material("6061-T6", {}));
  EXPECT_EQ(known.count(), 0u);
  ASSERT_EQ(known.unused().size(), 2u);
  EXPECT_NE(known.unused()[0].find("T77"), std::string::npos);
  EXPECT_NE(known.unused()[1].find("cheese"), std::string::npos);
}

}  // namespace
}  // namespace proveout::cutting
