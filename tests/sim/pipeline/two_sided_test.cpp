// A two-sided part whose remaining volume is known in closed form.
//
// Block 40 x 30 x 20. Side A, zeroed on its middle: a slot 6 wide, 8 deep, along y at stock x = 12
// (6 left of the block's middle by 8). Side B, turned about y and zeroed on the left front corner:
// a slot 6 wide, 15 deep, along x at stock y = 10. They cross where 8 + 15 > 20: the common part is
// 6 x 6 x 3.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>

#include "sim/measure/measure.h"
#include "sim/pipeline/dry_run.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::pipeline {
namespace {

const std::string tool =
    "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 30\nstickout = 40\n";
const std::string side_a =
    "G21 G90\nT1 M6\nS18000 M3\nG0 X-8 Y-25 Z5\nG0 Z-8\nG1 Y25 F500\nG0 Z5\nM30\n";
const std::string side_b =
    "G21 G90\nT1 M6\nS18000 M3\nG0 X-10 Y10 Z5\nG0 Z-15\nG1 X50 F500\nG0 Z5\nM30\n";

std::string job(const std::string& turn, const std::string& zero,
                const std::string& material = "6061-T6") {
  return "[simulation]\nvoxel = 0.2\n[stock]\nsize = [40, 30, 20]\nmaterial = \"" + material +
         "\"\n" + tool +
         "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"centre\", y = \"centre\", z "
         "= \"top\" }\n"
         "[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = [" +
         turn + "]\n" + zero;
}

run::JobResult result_of(const std::string& text) {
  const WorkFolder work;
  work.file("a.nc", side_a);
  work.file("b.nc", side_b);
  Diagnostics diagnostics;
  const auto read = job::read_job(work.file("job.toml", text), diagnostics);
  EXPECT_TRUE(read) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  auto result = dry_run(*read, {}, diagnostics);
  EXPECT_TRUE(result) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  return std::move(*result);
}

const double block = 40 * 30 * 20, slot_a = 6 * 30 * 8, slot_b = 6 * 40 * 15, common = 6 * 6 * 3;

TEST(TwoSided, RemainingVolumeInClosedForm) {
  const run::JobResult r =
      result_of(job("{ about = \"y\", degrees = 180 }",
                    "zero = { on = \"milled\", x = \"min\", y = \"min\", z = \"top\" }\n"));
  EXPECT_NEAR(r.part.volume_mm3, block - slot_a - slot_b + common, 0.001 * block);
  EXPECT_NEAR(r.removed_mm3, slot_a + slot_b - common, 0.002 * slot_b);
  EXPECT_NEAR(r.setups[0].stock_left_mm3, block - slot_a, 0.001 * block);
  EXPECT_LT((r.setups[0].zero_in_stock - Vec3(20, 15, 20)).norm(), 1e-9);
  // Turned about y the left edge on the machine is x = 40 of the stock, its top is z = 0.
  EXPECT_LT((r.setups[1].zero_in_stock - Vec3(40, 0, 0)).norm(), 0.02);
}

TEST(TwoSided, CentreOfMassInClosedForm) {
  const run::JobResult r =
      result_of(job("{ about = \"y\", degrees = 180 }",
                    "zero = { on = \"blank\", x = \"min\", y = \"min\", z = \"top\" }\n"));
  const double v = block - slot_a - slot_b + common;
  const Vec3 moment = block * Vec3(20, 15, 10) - slot_a * Vec3(12, 15, 16) -
                      slot_b * Vec3(20, 10, 7.5) + common * Vec3(12, 10, 13.5);
  EXPECT_LT((r.part.centre - moment / v).norm(), 0.01);
}

TEST(TwoSided, TurnedAboutXTheSlotLiesOnTheOtherSide) {
  const run::JobResult r =
      result_of(job("{ about = \"x\", degrees = 180 }",
                    "zero = { on = \"blank\", x = \"min\", y = \"min\", z = \"top\" }\n"));
  const double v = block - slot_a - slot_b + common;
  const Vec3 moment = block * Vec3(20, 15, 10) - slot_a * Vec3(12, 15, 16) -
                      slot_b * Vec3(20, 20, 7.5) + common * Vec3(12, 20, 13.5);
  EXPECT_LT((r.part.centre - moment / v).norm(), 0.01);
}

TEST(TwoSided, AFreeAngleTakesTheSameVolume) {
  // Turned 30 degrees about z on top of the flip the slot runs askew; through the whole block it
  // takes what its path within the block is long: here only that pose and grid do not matter to the
  // volume of side A.
  const run::JobResult r =
      result_of(job("{ about = \"z\", degrees = 30 }", "zero = { at = [20, 15, 100] }\n"));
  EXPECT_NEAR(r.part.volume_mm3, block - slot_a, 0.001 * block);  // zero far above: side B cuts air
}

TEST(TwoSided, SlotAtAFreeAngleHasItsOwnVolume) {
  // Side B alone at 30 degrees about z, a plunge-free slot 4 deep crossing the block's middle:
  // length of the path inside is longer by 1 / cos 30 and its ends are cut askew; volume = width *
  // depth * 30 / cos 30 where it leaves by both long sides (y = 0 and y = 30).
  const WorkFolder work;
  work.file("a.nc", "G21 G90\nT1 M6\nS18000 M3\nG0 X0 Y-40 Z5\nG0 Z-4\nG1 Y40 F500\nG0 Z5\nM30\n");
  Diagnostics diagnostics;
  const auto read = job::read_job(
      work.file("job.toml", "[simulation]\nvoxel = 0.2\n[stock]\nsize = [40, 30, 20]\n" + tool +
                                "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nturn = [{ about = "
                                "\"z\", degrees = 30 }]\n"
                                "zero = { at = [20, 15, 20] }\n"),
      diagnostics);
  ASSERT_TRUE(read);
  const auto r = dry_run(*read, {}, diagnostics);
  ASSERT_TRUE(r);
  const double expected = 6 * 4 * 30 / std::cos(30 / deg_per_rad);
  EXPECT_NEAR(r->removed_mm3, expected, 0.003 * expected);
}

TEST(Findings, RapidSpindleDepthAndLooseness) {
  const WorkFolder work;
  // A rapid through the block, a cut with the spindle off, and a cut that severs the block.
  work.file("a.nc",
            "G21 G90\nT1 M6\nG0 X0 Y-25 Z5\nG0 Z-2\nG0 Y25\nG1 Z-4 F100\nG1 Y-25\nS18000 M3\nG0 "
            "X-25 Y0 Z5\nX-10\n"
            "G0 Y-25\nG1 Z-20.5 F300\nY25\nG0 Z5\nM30\n");
  Diagnostics diagnostics;
  const auto read = job::read_job(
      work.file("job.toml", "[simulation]\nvoxel = 0.4\n[stock]\nsize = [40, 30, 20]\n" + tool +
                                "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = "
                                "\"centre\", y = \"centre\", z = \"top\" }\n"),
      diagnostics);
  ASSERT_TRUE(read);
  const auto r = dry_run(*read, {}, diagnostics);
  ASSERT_TRUE(r);
  const auto line_of = [&](FindingKind kind) {
    for (const Finding& f : r->findings) {
      if (f.kind == kind) return static_cast<int>(f.line);
    }
    return -1;
  };
  EXPECT_EQ(line_of(FindingKind::rapid_contact), 5);
  EXPECT_EQ(line_of(FindingKind::spindle_stopped), 7);
  EXPECT_EQ(line_of(FindingKind::below_stock), 12);
  EXPECT_GE(line_of(FindingKind::came_loose), 0);
  EXPECT_EQ(r->setups[0].pieces_mm3.size(), 2u);
  // The larger piece goes on: right of the cut at x = -10, so 27 of 40 mm.
  EXPECT_NEAR(r->part.volume_mm3, r->setups[0].pieces_mm3[0], 1e-6);
}

TEST(Findings, FixturesAndTravel) {
  const WorkFolder work;
  work.file("a.nc",
            "G21 G90\nT1 M6\nS18000 M3\nG0 X-30 Y0 Z5\nG1 Z-1 F300\nX30\nG0 Z5\nX120\nM30\n");
  Diagnostics diagnostics;
  // The clamp stands from 20 on: the cutter (radius 3) meets it on the way to x = 30, 3 mm above
  // its foot.
  const auto read = job::read_job(
      work.file(
          "job.toml",
          "[simulation]\nvoxel = 0.5\n[machine]\ntravel = [100, 100, 100]\n[stock]\nsize = [40, "
          "30, 20]\n" +
              tool +
              "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero_in_machine = [-50, -50, -60]\n"
              "zero = { x = \"centre\", y = \"centre\", z = \"top\" }\n"
              "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[20, -5, -20], [40, 5, 2]]\n"),
      diagnostics);
  ASSERT_TRUE(read) << to_text(diagnostics.all().at(0));
  const auto r = dry_run(*read, {}, diagnostics);
  ASSERT_TRUE(r);
  int fixture_line = 0, travel_line = 0;
  double beyond = 0;
  for (const Finding& f : r->findings) {
    if (f.kind == FindingKind::fixture_contact && fixture_line == 0)
      fixture_line = static_cast<int>(f.line);
    if (f.kind == FindingKind::over_travel && f.detail == "x") {
      travel_line = static_cast<int>(f.line);
      beyond = f.value;
    }
  }
  EXPECT_EQ(fixture_line, 6);
  EXPECT_EQ(travel_line, 8);  // 120 - 50 = 70 beyond 0
  EXPECT_NEAR(beyond, 70, 1e-9);
}

// With a specific force that does not depend on the chip, work is force times volume: 1000 N/mm2 is
// 1 J/mm3. What the moves took, each with its planned speed, must add up to that.
TEST(Energy, OfAllMovesIsSpecificEnergyTimesVolume) {
  const run::JobResult r =
      result_of(job("{ about = \"y\", degrees = 180 }",
                    "zero = { on = \"milled\", x = \"min\", y = \"min\", z = \"top\" }\n", "test") +
                "[materials.\"test\"]\nkc11 = 1000\nmc = 0\ndensity_g_cm3 = 1\n");
  ASSERT_EQ(r.material, "test");
  double energy = 0;
  for (const run::SetupResult& s : r.setups) {
    for (std::size_t m = 0; m < s.energy_j.size(); ++m) {
      if (s.source->motions[m].kind != nc::PathKind::rapid) energy += s.energy_j[m];
    }
  }
  const double volume = slot_a + slot_b - common;
  EXPECT_NEAR(energy, volume, 0.01 * volume);
}

// Work of all feed motions of the two-sided part in a material with these coefficients, J, and what
// they took, mm3.
struct Work {
  double joules = 0, mm3 = 0;
};
Work work_with(double ktc, double kte) {
  const run::JobResult r =
      result_of(job("{ about = \"y\", degrees = 180 }",
                    "zero = { on = \"milled\", x = \"min\", y = \"min\", z = \"top\" }\n", "test") +
                fmt::format("[materials.\"test\"]\nktc = {}\nkte = {}\nkrc = 100\nkre = 5\n"
                            "density_g_cm3 = 1\n",
                            ktc, kte));
  Work work;
  for (const run::SetupResult& s : r.setups) {
    for (std::size_t m = 0; m < s.energy_j.size(); ++m) {
      if (s.source->motions[m].kind == nc::PathKind::rapid) continue;
      work.joules += s.energy_j[m];
      work.mm3 += s.cut.motions[m].removed_mm3;
    }
  }
  return work;
}

// The linear edge law over a whole job, each move with its planned speed, by area and by volume:
// what chips cost is ktc times the volume that is gone, and what both cost is their sum.
TEST(Energy, OfAllMovesIsChipsByVolumePlusEdges) {
  const Work chips = work_with(500, 0), both = work_with(500, 11), hard = work_with(1500, 11);
  const double volume = slot_a + slot_b - common;
  // A motion's work is added up in single precision, stretch by stretch: some 40 roundings of 6e-8.
  EXPECT_NEAR(chips.joules, 500e-3 * chips.mm3, 1e-5 * chips.joules);
  EXPECT_NEAR(hard.joules, both.joules + 2 * chips.joules, 1e-5 * hard.joules);
  EXPECT_NEAR(chips.mm3, volume, 0.01 * volume);
  // A place on the edge's front half is in material for as long as the block is long under it,
  // whatever its bearing b; what it feels there fades with the chip below 0.005 mm:
  // teeth, turns a second, radius / speed times the integral of min(1, fz cos b / 0.005) over b,
  // times the slots' areas along the feed.
  const double fz = 500.0 / (2 * 18000), fade = 0.005, full = std::acos(fade / fz);
  const double around = 2 * (full + fz / fade * (1 - std::sin(full)));
  const double along = 8 * 30 + 15 * 40 - 6 * 3;
  const double expected = 11e-3 * 2 * 300 * 3 * around * along / (500.0 / 60);
  EXPECT_NEAR(both.joules - chips.joules, expected, 0.03 * expected);
}

}  // namespace
}  // namespace proveout::pipeline
