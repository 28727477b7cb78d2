// What changes would save, against closed forms: lengths over feeds of planted programs, in mm and
// inch, with one setup and two; each change also made by hand in the program's text and planned
// anew; and random programs, in which the parts must add up and a change, once made, is not
// proposed again. Axes here accelerate so fast that ramps take less than the tolerances.
#include "sim/after/time_use.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "parser/job/program_reading.h"
#include "sim/after/retime.h"
#include "sim/after/rewrite.h"
#include "sim/timing/plan.h"
#include "tests/sim/after/random_program.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::after {
namespace {

// Chip is all that binds; its greatest is 0.01 of the diameter.
const std::string foam =
    "[materials.foam]\ndensity_g_cm3 = 0.1\nkc11 = 0.001\nchip_per_mm_diameter = [0.001, 0.01]\n"
    "cutting_speed = [10, 1000]\n";
const std::string machine =
    "[machine]\nmax_feed = [6000, 6000, 6000]\nrapid = [6000, 6000, 6000]\n"
    "accel = [100000, 100000, 100000]\ntool_change_s = 45\n";

struct Planted {
  std::string program;      // of the first setup
  std::string second = {};  // of the second; empty: there is none
  std::string machine = after::machine;
  std::string limits = "limits = { plunge_feed = 100000 }";
  std::string more_tools = {};
  double voxel = 0.5;
  std::string material = "foam";
  std::string fixtures = {};  // of the first setup, tables
};

run::JobResult run(const Planted& p) {
  const pipeline::WorkFolder folder;
  folder.file("a.nc", p.program);
  std::string job = fmt::format("[simulation]\nvoxel = {}\n", p.voxel) + p.machine + foam +
                    "[stock]\nsize = [60, 40, 12]\nmaterial = \"" + p.material +
                    "\"\n"
                    "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflutes = 2\n"
                    "flute_length = 15\nstickout = 30\n" +
                    p.limits + "\n" + p.more_tools +
                    "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\ntool = 1\n"
                    "zero = { x = \"min\", y = \"min\", z = \"top\" }\n" +
                    p.fixtures;
  if (!p.second.empty()) {
    folder.file("b.nc", p.second);
    job +=
        "[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\ntool = 1\nturn = [{ about = \"x\", degrees "
        "= 180 }]\nzero = { on = \"blank\", x = \"min\", y = \"min\", z = \"top\" }\n";
  }
  return folder.run(job, 1);
}

std::map<Change, Saving> by_change(const TimeUse& use) {
  std::map<Change, Saving> out;
  for (const Saving& s : use.savings) out[s.change] = s;
  return out;
}

void adds_up(const TimeUse& use, const run::JobResult& r) {
  EXPECT_NEAR(use.time_s, r.time_s, 1e-6);
  EXPECT_NEAR(use.at_feed_s + use.held_s + use.air_s + use.rapid_s + use.waits_s, r.time_s, 1e-6);
  for (const double share : {use.at_feed_s, use.held_s, use.air_s, use.rapid_s, use.waits_s})
    EXPECT_GE(share, -1e-9);
  EXPECT_LE(use.saves_s(), r.time_s);
  for (const Saving& s : use.savings) {
    EXPECT_GT(s.saves_s, 0) << s.text;
    EXPECT_GT(s.alone_s, 0) << s.text;
    EXPECT_GE(s.roughing_s, 0) << s.text;
    EXPECT_LE(s.roughing_s, s.saves_s) << s.text;
  }
  for (const Stretch& s : use.stretches) {
    double saves = 0;
    for (const double by : s.saves_s) {
      EXPECT_GE(by, -1e-6) << "line " << s.line;
      saves += by;
    }
    EXPECT_LE(saves, s.time_s + 1e-6);
    EXPECT_LE(s.binds_s, s.time_s + 1e-6);
    EXPECT_GE(s.air_s, 0);
    EXPECT_GE(s.held_s, 0);
    EXPECT_LE(s.air_s + s.held_s, s.time_s + 1e-6);
  }
}

// A cut of 60 mm between two ways of 80 mm through air, all at one feed; scale: of the program's
// numbers, 1 in mm.
std::string air_cut_air(double feed, double y, double scale, bool air_by_rapid = false) {
  const auto n = [&](double mm) { return fmt::format("{:.5f}", mm / scale); };
  const std::string unit = scale == 1 ? "G21" : "G20", f = " F" + n(feed);
  std::string out = unit + " G90 G94\nS6000 M3\nG0 X" + n(-80) + " Y" + n(y) + " Z" + n(-1) + "\n";
  // 3 mm of cutter and 2 more on either side of the block keep the feed.
  if (air_by_rapid) out += "G0 X" + n(-5) + "\nG1 X" + n(65) + f + "\nG0 X" + n(140) + "\n";
  if (!air_by_rapid) out += "G1 X" + n(140) + f + "\n";
  return out + "M30\n";
}

// 720 mm/min is the chip's limit: 0.01 of 6 mm, 2 teeth, 6000 turns. There nothing but air is left.
TEST(TimeUse, AirAtRapidIsLengthOverTheTwoSpeeds) {
  for (const double scale : {1.0, 25.4}) {
    for (const double y : {9.0, 21.5}) {
      const run::JobResult r = run({air_cut_air(720, y, scale), ""});
      const TimeUse use = time_use(r);
      adds_up(use, r);
      const auto by = by_change(use);
      ASSERT_TRUE(by.contains(Change::air)) << scale;
      EXPECT_EQ(by.size(), 1u);
      // 75 mm before and behind go at 100 instead of 12 mm/s, the ramps apart.
      EXPECT_NEAR(by.at(Change::air).saves_s, 150 / 12.0 - 150 / 100.0, 0.01);
      EXPECT_EQ(by.at(Change::air).saves_s, by.at(Change::air).alone_s);
      const run::JobResult changed = run({air_cut_air(720, y, scale, true), ""});
      EXPECT_NEAR(by.at(Change::air).saves_s, r.time_s - changed.time_s, 0.01);
      EXPECT_NEAR(changed.removed_mm3, r.removed_mm3, 1e-6 * r.removed_mm3);
      EXPECT_TRUE(time_use(changed).savings.empty()) << time_use(changed).savings[0].text;
      ASSERT_EQ(use.stretches.size(), 1u);
      EXPECT_EQ(use.stretches[0].binds, Binds::air);
    }
  }
}

TEST(TimeUse, FeedRisesToTheChipInTwoSetups) {
  for (const double scale : {1.0, 25.4}) {
    const Planted slow{air_cut_air(240, 20, scale, true), air_cut_air(360, 11, scale, true)};
    const run::JobResult r = run(slow);
    const TimeUse use = time_use(r);
    adds_up(use, r);
    const auto by = by_change(use);
    ASSERT_EQ(by.size(), 1u);
    const double saves = 70 / 4.0 + 70 / 6.0 - 2 * 70 / 12.0;
    EXPECT_NEAR(by.at(Change::feed).saves_s, saves, 0.02 * saves);  // whole steps of 5 mm/min
    const run::JobResult fast =
        run({air_cut_air(720, 20, scale, true), air_cut_air(720, 11, scale, true)});
    EXPECT_NEAR(by.at(Change::feed).saves_s, r.time_s - fast.time_s, 0.02 * saves);
    EXPECT_NEAR(by.at(Change::feed).saves_s, r.time_s - retime_faster(r).time_s, 1e-6);
    EXPECT_TRUE(time_use(fast).savings.empty());
    ASSERT_EQ(use.stretches.size(), 2u);
    for (const Stretch& s : use.stretches) EXPECT_EQ(s.binds, Binds::feed_word);
    EXPECT_EQ(time_use(fast).stretches[0].binds, Binds::chip);
  }
}

// The air's minutes at the low feed are won once, whichever change is said to win them.
TEST(TimeUse, NoSecondIsSavedTwice) {
  const run::JobResult r = run({air_cut_air(240, 20, 1), ""});
  const TimeUse use = time_use(r);
  const run::JobResult both = run({air_cut_air(720, 20, 1, true), ""});
  EXPECT_EQ(use.savings.size(), 2u);
  EXPECT_NEAR(use.saves_s(), r.time_s - both.time_s, 0.5);
  const auto by = by_change(use);
  EXPECT_GT(by.at(Change::air).alone_s + by.at(Change::feed).alone_s, use.saves_s() + 10);
}

// A spring pass is meant to meet nothing, however it is cut up: within the block air keeps its
// feed, and beside a wall that was cut it does too.
TEST(TimeUse, AirWithinTheBlockStaysAtItsFeed) {
  const std::string head = "G21 G90 G94\nS6000 M3\nG0 X-5 Y20 Z-1\nG1 X65 F720\n";
  const char* const back[] = {"X-5\n", "X50\nX20\nX-5\n", "X33\nY20.02\nX-5\n",
                              "G2 X65 I-0.5 J0\nG1 X-5\n"};
  for (const char* way : back) {
    const run::JobResult r = run({head + way + "M30\n", ""});
    EXPECT_TRUE(time_use(r).savings.empty()) << way << time_use(r).savings[0].text;
  }
  // Clear of it the way back is air: 50 mm beside it from its corner on, less 2 + 3 up to there,
  // and 70 along; above it, whatever lies below. Shown from both sides of the margin of 2 mm.
  const auto saved = [&](const std::string& way) {
    const auto by = by_change(time_use(run({head + way + "M30\n", ""})));
    return by.contains(Change::air) ? by.at(Change::air).saves_s : 0.0;
  };
  const double a_mm = 1 / 4.0 - 1 / 100.0;
  EXPECT_NEAR(saved("Y-30 F240\nX-5\n"), (50 + 70) * a_mm, 0.02);
  EXPECT_NEAR(saved("Y-5.1 F240\nX-5\n"), (25.1 + 70) * a_mm, 0.02);
  EXPECT_NEAR(saved("Y-4.9 F240\nX-5\n"), 24.9 * a_mm, 0.02);
  EXPECT_NEAR(saved("G0 Z2.1\nG1 X-5 F240\n"), 70 * a_mm, 0.02);
  EXPECT_EQ(saved("G0 Z1.9\nG1 X-5 F240\n"), 0);
  // Less than 3 s is not worth a word.
  EXPECT_EQ(saved("Y-4.9\nX-5\n"), 0);
}

// The same way through air beside a clamp: from 10 mm off it on for all of the tool (3 mm of
// cutter, 12.5 of holder where it has one) it stays at its feed.
TEST(TimeUse, AirBesideAClampStaysAtItsFeed) {
  const double a_mm = 1 / 12.0 - 1 / 100.0;
  const auto saved = [&](const std::string& box, const std::string& tool) {
    Planted p{air_cut_air(720, 20, 1), ""};
    if (!box.empty()) p.fixtures = "[[setups.fixtures]]\nname = \"clamp\"\nbox = " + box + "\n";
    p.limits += tool;
    const run::JobResult r = run(p);
    const TimeUse use = time_use(r);
    adds_up(use, r);
    const auto by = by_change(use);
    return by.contains(Change::air) ? by.at(Change::air).saves_s : 0.0;
  };
  EXPECT_NEAR(saved("", ""), 150 * a_mm, 0.02);
  // 20 mm of x beside the path, at 9 mm of y from the cutter: 20 + 2 x 13 mm are kept.
  const std::string beside = "[[-60, 32, -12], [-40, 40, 5]]";
  EXPECT_NEAR(saved(beside, ""), (150 - 46) * a_mm, 0.02);
  // At 11 mm it is far enough, unless a holder is wider.
  const std::string off = "[[-60, 34, -12], [-40, 40, 5]]";
  EXPECT_NEAR(saved(off, ""), 150 * a_mm, 0.02);
  EXPECT_NEAR(saved(off, "\nholder = [[25, 20]]"), (150 - 62.5) * a_mm, 0.02);
  // The tip 11 mm above it, and 9.
  EXPECT_NEAR(saved("[[-60, 15, -30], [-40, 25, -12]]", ""), 150 * a_mm, 0.02);
  EXPECT_NEAR(saved("[[-60, 15, -30], [-40, 25, -10]]", ""), (150 - 46) * a_mm, 0.02);
}

// One line is posted one way: a subprogram in air at one call and in material at the next goes at
// feed in both, and one called at two loads gets what the heavier allows.
TEST(TimeUse, ALineThatRunsTwiceIsChangedForBoth) {
  const std::string head = "G21 G90 G94\nS6000 M3\nG0 X-5 Y20 Z5\n", tail = "G0 Z5\nM30\n",
                    sub = "O7\nG1 X65 F720\nG0 X-5\nM99\n";
  const auto by = [&](const std::string& calls, const std::string& material = "foam") {
    Planted p{head + calls + tail + sub, ""};
    p.material = material;
    const run::JobResult r = run(p);
    const TimeUse use = time_use(r);
    adds_up(use, r);
    return by_change(use);
  };
  EXPECT_TRUE(by("G0 Z3\nM98 P7\nG0 Z4\nM98 P7\n").contains(Change::air));
  EXPECT_FALSE(by("G0 Z3\nM98 P7\nG0 Z-1\nM98 P7\n").contains(Change::air));
  // In aluminium 0.5 mm deep and 4 mm deep.
  const auto time = [&](const std::string& calls) {
    Planted p{head + calls + tail + sub, ""};
    p.material = "6061-T6";
    p.machine += "spindle = { power_w = 60, efficiency = 1, max_rpm = 6000 }\n";
    p.program.replace(p.program.find("F720"), 4, "F100");
    const run::JobResult r = run(p);
    const Retimed faster = retime_faster(r);
    Diagnostics diagnostics;
    const auto made =
        rewrite(p.program, "a.nc", job::program_reading(r.job, &r.job.setups[0]),
                *r.setups[0].source, {faster.setups[0].feed, faster.setups[0].rpm}, diagnostics);
    EXPECT_TRUE(made) << calls;
    if (!made) return 0.0;
    p.program = made->text;
    const run::JobResult again = run(p);
    EXPECT_NEAR(again.time_s, faster.time_s, 2e-3 * again.time_s) << calls;
    return r.time_s - faster.time_s;
  };
  const double shallow = time("G0 Z-0.5\nM98 P7\nG0 Z-1\nM98 P7\n"),
               mixed = time("G0 Z-0.5\nM98 P7\nG0 Z-5\nM98 P7\n");
  EXPECT_GT(shallow, mixed + 5);
}

// The same cut with its feed said by minute, inverse time or turn, in mm and in inches, in one
// setup and in both: the same savings.
TEST(TimeUse, TheWayTheFeedIsSaidChangesNothing) {
  const auto program = [](const std::string& mode, double scale, double y) {
    const auto n = [&](double mm) { return fmt::format("{:.6f}", mm / scale); };
    std::string out = (scale == 1 ? "G21" : "G20") + std::string(" G90 G94\nS6000 M3\nG0 X") +
                      n(-80) + " Y" + n(y) + " Z" + n(-1) + "\n" + mode;
    // 240 mm/min all along; inverse time counts the way of each block.
    const double to[] = {-5, 65, 140};
    double from = -80;
    for (const double x : to) {
      const double f =
          mode == "G93" ? 240 / (x - from) : (mode == "G95" ? 240 / 6000.0 : 240) / scale;
      out += fmt::format(" G1 X{} F{:.8f}\n", n(x), f);
      from = x;
    }
    return out + "G94 G0 Z" + n(5) + "\nM30\n";
  };
  for (const bool both : {false, true}) {
    const run::JobResult plain =
        run({program("G94", 1, 9), both ? program("G94", 1, 20) : std::string()});
    const auto wanted = by_change(time_use(plain));
    const double setups = both ? 2 : 1;
    // 75 mm of air before and behind at 100 mm/s, the cut of 70 at 12, instead of 4.
    EXPECT_NEAR(wanted.at(Change::air).saves_s, setups * (150 / 4.0 - 150 / 100.0), 0.03);
    EXPECT_NEAR(wanted.at(Change::feed).saves_s, setups * (70 / 4.0 - 70 / 12.0), 0.03);
    for (const char* mode : {"G93", "G95", "G94"}) {
      for (const double scale : {1.0, 25.4}) {
        SCOPED_TRACE(fmt::format("{} {} {}", mode, scale, both));
        const run::JobResult r =
            run({program(mode, scale, 9), both ? program(mode, scale, 20) : std::string()});
        const TimeUse use = time_use(r);
        adds_up(use, r);
        const auto by = by_change(use);
        ASSERT_EQ(by.size(), wanted.size());
        for (const auto& [change, saving] : wanted)
          EXPECT_NEAR(by.at(change).saves_s, saving.saves_s, 0.01);
      }
    }
  }
}

// Levels one under the other: the last leaves the floor that stays, those above it nothing. Without
// a part all that stays counts, walls too.
TEST(TimeUse, FinishingPassesAreCountedApart) {
  const auto level = [](double z, double feed) {
    std::string out;
    bool back = false;
    for (double y = 0; y <= 40; y += 4, back = !back)
      out += fmt::format("G0 X{0} Y{1} Z5\nG0 Z{2}\nG1 X{3} F{4}\n", back ? 65 : -5, y, z,
                         back ? -5 : 65, feed);
    return out;
  };
  const std::string head = "G21 G90 G94\nS6000 M3\n", tail = "G0 Z5\nM30\n";
  const double rows = 11, saved = rows * (70 / 4.0 - 70 / 12.0);
  const auto of = [&](double upper, double lower) {
    const run::JobResult r = run({head + level(-1, upper) + level(-2, lower) + tail, ""});
    const TimeUse use = time_use(r);
    adds_up(use, r);
    return by_change(use).at(Change::feed);
  };
  const Saving rough = of(240, 720), fine = of(720, 240), all = of(240, 240);
  EXPECT_NEAR(rough.saves_s, saved, 0.02 * saved);
  EXPECT_NEAR(rough.roughing_s, rough.saves_s, 0.01);
  EXPECT_NEAR(fine.saves_s, saved, 0.02 * saved);
  EXPECT_NEAR(fine.roughing_s, 0, 0.01);  // ramps beside it
  EXPECT_NEAR(all.roughing_s, saved, 0.02 * saved);
  // In the middle of the rule, 0.0055 of the diameter: 396 mm/min, in whole steps 395. Without what
  // leaves the floor, and nothing where that is programmed already.
  const double likely = rows * (70 / 4.0 - 70 * 60 / 395.0);
  EXPECT_NEAR(rough.likely_s, likely, 0.02 * likely);
  EXPECT_NEAR(all.likely_s, likely, 0.02 * likely);
  EXPECT_NEAR(fine.likely_s, 0, 0.01);
  EXPECT_NEAR(of(400, 720).likely_s, 0, 0.01);
  EXPECT_NEAR(all.saves_s, 2 * saved, 0.02 * saved);
}

TEST(TimeUse, WhatIsHeldIsNotWorkedOutAgain) {
  run::JobResult r = run({air_cut_air(240, 20, 1), ""});
  EXPECT_NEAR(time_use_of(r)->time_s, r.time_s, 1e-6);
  auto held = std::make_shared<TimeUse>();
  held->air_s = 12345;
  r.time_use = held;
  EXPECT_EQ(time_use_of(r).get(), held.get());
}

// A square of 30 mm round the middle, each level entered from above by a rapid into what was cut.
std::string levels(const std::vector<double>& floors) {
  std::string out = "G21 G90 G94\nS6000 M3\n";
  for (const double z : floors)
    out += fmt::format(
        "G0 Z5\nG0 X15 Y-4\nG0 Z{0}\nG1 Y5 F720\nG1 X45\nG1 Y35\nG1 X15\nG1 Y5\nG0 Z5\n", z);
  return out + "M30\n";
}

TEST(TimeUse, FewerLevelsReachAsDeepWithinTheDeclaredDepth) {
  const std::vector<double> six{-0.8, -1.6, -2.4, -3.2, -4.0, -4.8};
  Planted p{levels(six), ""};
  p.limits = "limits = { axial_depth = 1.7, plunge_feed = 100000 }";
  const run::JobResult r = run(p);
  const TimeUse use = time_use(r);
  adds_up(use, r);
  const auto by = by_change(use);
  ASSERT_TRUE(by.contains(Change::depth));
  // 4.8 mm in steps of 1.7 at most: three levels. Each is 9 + 120 mm long, some of it air.
  EXPECT_NEAR(by.at(Change::depth).saves_s, 3 * 129 / 12.0, 0.1);
  p.program = levels({-1.6, -3.2, -4.8});
  const run::JobResult fewer = run(p);
  EXPECT_NEAR(by.at(Change::depth).saves_s, r.time_s - fewer.time_s, 0.03 * r.time_s);
  EXPECT_FALSE(by_change(time_use(fewer)).contains(Change::depth));
  // Silent without a limit of the job's own, and where one level less would pass it.
  p = {levels(six), ""};
  EXPECT_FALSE(by_change(time_use(run(p))).contains(Change::depth));
  p.limits = "limits = { axial_depth = 0.9, plunge_feed = 100000 }";
  EXPECT_FALSE(by_change(time_use(run(p))).contains(Change::depth));
}

std::string rows(double over) {
  std::string out = "G21 G90 G94\nS6000 M3\nG0 X-4 Y0 Z5\nG0 Z-0.6\n";
  bool back = false;
  for (double y = 0; y <= 40.001; y += over, back = !back)
    out += fmt::format("G1 Y{:.3f} F720\nG1 X{}\n", y, back ? -4 : 64);
  return out + "G0 Z5\nM30\n";
}

TEST(TimeUse, FewerRowsCoverAsMuchWithinTheDeclaredWidth) {
  Planted p{rows(2), ""};
  p.limits = "limits = { radial_width = 4.1, plunge_feed = 100000 }";
  const run::JobResult r = run(p);
  const TimeUse use = time_use(r);
  adds_up(use, r);
  const auto by = by_change(use);
  ASSERT_TRUE(by.contains(Change::width));
  // 21 rows of 68 mm, 2 mm apart, become 11, 4 mm apart.
  EXPECT_NEAR(by.at(Change::width).saves_s, 10 * 68 / 12.0, 0.2);
  p.program = rows(4);
  const run::JobResult fewer = run(p);
  EXPECT_NEAR(by.at(Change::width).saves_s, r.time_s - fewer.time_s, 0.02 * r.time_s);
  EXPECT_FALSE(by_change(time_use(fewer)).contains(Change::width));
  p = {rows(2), ""};
  EXPECT_FALSE(by_change(time_use(run(p))).contains(Change::width));
}

TEST(TimeUse, ToolChangesThatComeAgainAndPartsThatShareThem) {
  const auto cut = [](int tool, double y) {
    return fmt::format("T{} M6\nS6000 M3\nG0 X-5 Y{} Z5\nG0 Z-1\nG1 X65 F720\nG0 Z5\n", tool, y);
  };
  Planted p{"G21 G90 G94\n" + cut(2, 5) + cut(1, 15) + cut(2, 25) + "M30\n", ""};
  p.machine += "program_overhead_s = 12\n";
  p.more_tools =
      "[[tools]]\nnumber = 2\nshape = \"flat\"\ndiameter = 6\nflutes = 2\nflute_length = "
      "15\nstickout = 30\n";
  const run::JobResult r = run(p);
  const TimeUse use = time_use(r);
  adds_up(use, r);
  const auto by = by_change(use);
  ASSERT_TRUE(by.contains(Change::changes));
  // Tool 1 is in the spindle when the program starts: its cut first, then both of tool 2.
  EXPECT_NEAR(by.at(Change::changes).saves_s, 2 * 45, 1e-6);
  p.program = "G21 G90 G94\n" + cut(1, 15) + cut(2, 5) + cut(2, 25) + "M30\n";
  const run::JobResult grouped = run(p);
  EXPECT_NEAR(r.time_s - grouped.time_s, 2 * 45, 0.2);
  EXPECT_FALSE(by_change(time_use(grouped)).contains(Change::changes));
  // Of two parts each bears half of the change that is left and of the overhead.
  EXPECT_NEAR(by.at(Change::parts).saves_s, (45 + 12) / 2.0, 1e-6);
  EXPECT_NEAR(by.at(Change::parts).alone_s, (3 * 45 + 12) / 2.0, 1e-6);
}

// The first tool put back for the next part, or all tools away, is no change that a part can save.
TEST(TimeUse, AToolPutBackWithoutACutIsNoSaving) {
  const auto cut = [](int tool, double y) {
    return fmt::format("T{} M6\nS6000 M3\nG0 X-5 Y{} Z5\nG0 Z-1\nG1 X65 F720\nG0 Z5\n", tool, y);
  };
  for (const char* end : {"T1 M6\n", "T0 M6\n", "T1 M6\nG0 X0 Y0\nG1 Z4 F500\nG0 Z5\n"}) {
    Planted p{"G21 G90 G94\n" + cut(1, 5) + cut(2, 15) + end + "M30\n", ""};
    p.more_tools =
        "[[tools]]\nnumber = 2\nshape = \"flat\"\ndiameter = 6\nflutes = 2\nflute_length = "
        "15\nstickout = 30\n";
    EXPECT_FALSE(by_change(time_use(run(p))).contains(Change::changes)) << end;
    p.program = "G21 G90 G94\n" + cut(1, 5) + cut(2, 15) + cut(1, 30) + end + "M30\n";
    // With a cut between it is one, unless the tool has to come back at the end in any case.
    EXPECT_EQ(by_change(time_use(run(p))).contains(Change::changes), std::string(end) == "T0 M6\n")
        << end;
  }
}

// Levels of rows where depth and step-over alone would each stay within the spindle's power, and
// both together not: what is proposed, posted and run, draws no more than there is.
TEST(TimeUse, DeeperAndWiderTogetherStayWithinThePower) {
  const auto program = [](int levels, int rows) {
    std::string out = "G21 G90 G94\nT1 M6\nS8000 M3\n";
    for (int l = 1; l <= levels; ++l) {
      for (int k = 0; k < rows; ++k) {
        // From outside the block inwards: the first row is no wider than the others.
        const double y = -3 + 15.0 * (k + 1) / rows - 2;
        out +=
            fmt::format("G0 Z5\nG0 X-8 Y{:.4f}\nG0 Z{:.4f}\nG1 X68 F1400\n", y, -1.0 * l / levels);
      }
    }
    return out + "G0 Z5\nM30\n";
  };
  const auto of = [&](int levels, int rows, double power) {
    Planted p{program(levels, rows), ""};
    p.limits = "limits = { axial_depth = 0.5, radial_width = 5, plunge_feed = 100000 }";
    p.machine +=
        fmt::format("spindle = {{ power_w = {}, efficiency = 1, max_rpm = 8000 }}\n", power);
    p.material = "6061-T6";
    return run(p);
  };
  const auto peak = [](const run::JobResult& r) {
    float out = 0;
    for (const auto& m : r.setups[0].peaks) out = std::max(out, m.power_w);
    return static_cast<double>(out);
  };
  const double once = peak(of(4, 6, 1e5)), deep = peak(of(2, 6, 1e5)), both = peak(of(2, 4, 1e5));
  ASSERT_GT(both, 1.3 * deep);
  const run::JobResult r = of(4, 6, 1.1 * deep);
  const TimeUse use = time_use(r);
  const auto by = by_change(use);
  ASSERT_TRUE(by.contains(Change::depth)) << once << " " << deep << " " << both;
  // Wider too would draw more than there is; with more spindle it would not, and is told.
  EXPECT_FALSE(by.contains(Change::width)) << by.at(Change::width).text;
  EXPECT_TRUE(by_change(time_use(of(4, 6, 4 * both))).contains(Change::width));
}

// Programs of all kinds: shares add up, and the feeds that were proposed are not proposed again
// once they are posted.
TEST(TimeUse, RandomProgramsAddUpAndKeepWhatTheyWereTold) {
  std::size_t posted = 0;
  for (unsigned seed = 1; seed <= 12; ++seed) {
    SCOPED_TRACE(seed);
    Planted p{random_nc(seed), ""};
    p.voxel = 1;
    p.more_tools =
        "[[tools]]\nnumber = 2\nshape = \"flat\"\ndiameter = 4\nflutes = 2\nflute_length = "
        "12\nstickout = 25\nlimits = { axial_depth = 3, radial_width = 2 }\n";
    const run::JobResult r = run(p);
    const TimeUse use = time_use(r);
    adds_up(use, r);
    const Retimed faster = retime_faster(r);
    EXPECT_LE(faster.time_s, r.time_s + 1e-6);
    // Less than 3 s or half a percent on top of what air saves is not told.
    const auto by = by_change(use);
    const double least = std::max(3.0, 0.005 * r.time_s);
    const double faster_s = r.time_s - faster.time_s;
    if (by.contains(Change::feed)) {
      EXPECT_NEAR(by.at(Change::feed).alone_s, faster_s, 1e-6);
    } else {
      const double air = by.contains(Change::air) ? by.at(Change::air).saves_s : 0;
      EXPECT_LT(faster_s, least + std::max(air, least)) << air;
    }
    Diagnostics diagnostics;
    const auto made =
        rewrite(p.program, "a.nc", job::program_reading(r.job, &r.job.setups[0]),
                *r.setups[0].source, {faster.setups[0].feed, faster.setups[0].rpm}, diagnostics);
    if (!made) continue;
    ++posted;
    p.program = made->text;
    const run::JobResult again = run(p);
    EXPECT_EQ(again.removed_mm3, r.removed_mm3);
    EXPECT_LE(again.time_s, r.time_s + 1e-6);
    nc::Program planned = *r.setups[0].source;
    for (std::size_t i = 0; i < planned.motions.size(); ++i)
      planned.motions[i].feed = made->feed[i];
    EXPECT_NEAR(again.time_s, timing::plan(planned, r.job.machine).time_s, 1e-3 * again.time_s);
  }
  EXPECT_GT(posted, 6u);
}

}  // namespace
}  // namespace proveout::after
