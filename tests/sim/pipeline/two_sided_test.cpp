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

// A frame is cut round a 12 x 12 mm island, right through, in four straight passes; the last piece
// of wall goes in the fourth, half way along it: the island comes free there and not before.
TEST(Loose, TheLineAtWhichAPieceComesFree) {
  const WorkFolder work;
  // Slots 4 wide through the 8 mm plate: the island spans 9 to 21. The fourth pass is posted in
  // steps of 1 mm.
  std::string program = "G21 G90\nT1 M6\nS9000 M3\nG0 X7 Y7 Z5\nG1 Z-9 F300\nX23\nY23\nX7\n";
  for (int y = 22; y >= 7; --y) program += fmt::format("Y{}\n", y);
  program += "G0 Z5\nG0 X40 Y-10\nG1 Z-2\nY35\nG0 Z5\nM30\n";
  work.file("frame.nc", program);
  const std::string text =
      "[simulation]\nvoxel = 0.25\n[stock]\nsize = [60, 30, 8]\n[[tools]]\nnumber = 1\nshape = "
      "\"flat\"\ndiameter = 4\n"
      "flute_length = 20\nstickout = 30\n[[setups]]\nname = \"A\"\nprogram = \"frame.nc\"\n"
      "zero = { x = \"min\", y = \"min\", z = \"top\" }\n";
  Diagnostics diagnostics;
  const auto read = job::read_job(work.file("job.toml", text), diagnostics);
  ASSERT_TRUE(read) << to_text(diagnostics.all()[0]);
  const auto result = dry_run(*read, {}, diagnostics);
  ASSERT_TRUE(result);
  const auto loose =
      std::find_if(result->findings.begin(), result->findings.end(),
                   [](const Finding& f) { return f.kind == FindingKind::came_loose; });
  ASSERT_NE(loose, result->findings.end());
  EXPECT_NEAR(loose->value, 12 * 12 * 8, 12);
  // The first pass left the wall at x = 7 open from y = 5 to 9: the tool of radius 2 breaks through
  // to it as it comes to y = 11. That is the 12th line of the fourth pass (lines 9 on).
  EXPECT_EQ(loose->line, 9u + (22 - 11));
  EXPECT_EQ(loose->tool, 1);
  EXPECT_NE(loose->text.find("of cutting follow"), std::string::npos);
}

// A plate cut into five strips, 4, 5, 7, 9 and 19 wide. The widest stays; the line that freed it is
// looked up for the three largest of the others, the least is told all the same.
TEST(Loose, EveryPieceIsToldAndTheLargestWithTheirLines) {
  const WorkFolder work;
  std::string program = "G21 G90\nT1 M6\nS9000 M3\n";
  for (const int x : {6, 15, 26, 39})
    program += fmt::format("G0 X{} Y-5 Z5\nG1 Z-9 F300\nY35\nG0 Z5\n", x);
  work.file("strips.nc", program + "M30\n");
  const run::JobResult r = work.run(
      "[simulation]\nvoxel = 0.4\n[stock]\nsize = [60, 30, 8]\n[[tools]]\nnumber = 1\nshape = "
      "\"flat\"\ndiameter = 4\nflute_length = 20\nstickout = 30\n[[setups]]\nname = \"A\"\n"
      "program = \"strips.nc\"\nzero = { x = \"min\", y = \"min\", z = \"top\" }\n");
  EXPECT_NEAR(r.part.volume_mm3, 19 * 30 * 8, 0.01 * 19 * 30 * 8);
  std::vector<Finding> loose;
  for (const Finding& f : r.findings) {
    if (f.kind == FindingKind::came_loose) loose.push_back(f);
  }
  std::sort(loose.begin(), loose.end(),
            [](const Finding& a, const Finding& b) { return a.value > b.value; });
  ASSERT_EQ(loose.size(), 4u);
  const double widths[] = {9, 7, 5, 4};
  // The fourth, third and second cut's Y35.
  const std::uint32_t lines[] = {18, 14, 10, 0};
  for (std::size_t k = 0; k < 4; ++k) {
    EXPECT_NEAR(loose[k].value, widths[k] * 30 * 8, 0.02 * widths[k] * 30 * 8) << k;
    EXPECT_EQ(loose[k].line, lines[k]) << loose[k].text;
    EXPECT_EQ(loose[k].setup, "A");
  }
  // Told where it lies: in its middle.
  EXPECT_LT((loose[3].at - Vec3(2, 15, -4)).norm(), 0.3) << loose[3].at.transpose();
}

// The fourth-power rule on a deep face: the same cut at the same stick-out, once with a 1/4 inch
// and once with a 3/8 inch tool, fluted all the way. The tool bends (3/8 / 1/4)^4 = 5.06 times
// less; the small one is flagged, the larger passes.
TEST(DeepFace, WantsTheThickerTool) {
  const auto face = [](double diameter) {
    const WorkFolder work;
    work.file(
        "face.nc",
        fmt::format(
            "G21 G90\nT1 M6\nS16000 M3\nG0 X{0:.4f} Y-12 Z5\nG0 Z-26\nG1 Y42 F250\nG0 Z5\nM30\n",
            0.15 - diameter / 2));
    const std::string text = fmt::format(
        "[simulation]\nvoxel = 0.15\n[stock]\nsize = [12, 30, 30]\n[[tools]]\nnumber = 1\nshape = "
        "\"flat\"\ndiameter = {}\n"
        "flutes = 2\nhelix_angle = 0\nflute_length = 45\nstickout = 45\nlimits = {{ axial_depth = "
        "30 }}\n[[setups]]\nname = \"A\"\n"
        "program = \"face.nc\"\nzero = {{ x = \"min\", y = \"min\", z = \"top\" }}\n",
        diameter);
    Diagnostics diagnostics;
    const auto read = job::read_job(work.file("job.toml", text), diagnostics);
    EXPECT_TRUE(read) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
    auto result = dry_run(*read, {}, diagnostics);
    EXPECT_TRUE(result);
    return std::move(*result);
  };
  const auto flagged = [](const run::JobResult& r) {
    return std::any_of(r.findings.begin(), r.findings.end(),
                       [](const Finding& f) { return f.kind == FindingKind::over_bend; });
  };
  const auto bend_per_newton = [](const run::JobResult& r) {
    float bend = 0, force = 0;
    for (const run::MotionPeak& p : r.setups[0].peaks) {
      bend = std::max(bend, p.bend_mm);
      force = std::max(force, p.force_n);
    }
    return static_cast<double>(bend) / force;
  };
  const run::JobResult thin = face(6.35), thick = face(9.525);
  EXPECT_TRUE(flagged(thin));
  for (const Finding& f : thick.findings) EXPECT_NE(f.kind, FindingKind::over_bend) << f.text;
  EXPECT_NEAR(bend_per_newton(thin) / bend_per_newton(thick), 5.0625, 0.05);
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

}  // namespace
}  // namespace proveout::pipeline
