// Inserts for a target mass, hand-worked.
//
// Block 40 x 30 x 12 of aluminium (2.70 g/cm3). A round pocket of 16 mm, 8 deep, is cut by a 6 mm
// cutter on a circle of radius 5 and over the middle: volume 64 pi x 8 = 1608.5 mm3. Mass left
// (14400 - 1608.5) x 2.70 / 1000 = 34.537 g.
#include "sim/checks/inserts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/measure/pockets.h"
#include "tests/sim/pipeline/work_folder.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::checks {
namespace {

const double pocket = pi * 64 * 8, left_g = (14400 - pi * 64 * 8) * 2.70 / 1000;

run::JobResult run_with(double target, const std::string& material = "6061-T6") {
  const pipeline::WorkFolder work;
  work.file("part.stl", pipeline::prism_stl({{0, 0}, {40, 0}, {40, 12}, {0, 12}},
                                            {{0, 2, 1}, {0, 3, 2}}, 0, 30));
  work.file("a.nc",
            "G21 G90\nT1 M6\nS18000 M3\nG0 X20 Y15 Z5\nG1 Z-8 F200\nX22 F600\nG3 I-2\nG1 X25\nG3 "
            "I-5\nG0 Z5\nM30\n");
  return work.run(
      "[simulation]\nvoxel = 0.2\n[stock]\nmaterial = \"" + material +
      "\"\nsize = [40, 30, 12]\n[part]\nmesh = "
      "\"part.stl\"\ntolerance = { gouge = 20, excess = 20 }\n" +
      (target > 0 ? fmt::format("target_mass_g = {}\n", target) : "") +
      "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 20\nstickout = "
      "30\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"min\", z = "
      "\"top\" }\n");
}

const run::InsertOption& of(const run::MassTarget& t, const std::string& name) {
  return *std::find_if(t.inserts.begin(), t.inserts.end(),
                       [&](const run::InsertOption& i) { return i.material == name; });
}

TEST(Inserts, ArithmeticOfVolumes) {
  // 10 g of brass: 10 / 8.49 = 1.17786 cm3. In place of aluminium: 10 / (8.49 - 2.70) = 1.72712
  // cm3.
  EXPECT_NEAR(added_volume(10, 8.49), 1177.86, 0.01);
  EXPECT_NEAR(replaced_volume(10, 8.49, 2.70), 1727.12, 0.01);
  // Epoxy is lighter than aluminium: bored out and filled it takes mass away, 1.55 g each cm3.
  EXPECT_EQ(replaced_volume(10, 1.15, 2.70), 0);
  EXPECT_NEAR(replaced_volume(-3.1, 1.15, 2.70), 2000, 1e-6);
  EXPECT_EQ(added_volume(-3.1, 8.49), 0);
}

TEST(Inserts, APlugThatFitsAndOneThatDoesNot) {
  // 9 g are missing. Brass 9 / 8.49 = 1060.07 mm3, a plug of 15.8 mm 1060.07 / 196.07 = 5.41 high:
  // it fits the pocket, 8 deep. Epoxy 9 / 1.15 = 7826 mm3: more than the pocket holds. Filled epoxy
  // 9 / 6.58 = 1367.8 mm3 can be poured. Tungsten 467.5 mm3.
  const run::JobResult r = run_with(std::round((left_g + 9) * 1e6) / 1e6);
  const run::MassTarget& t = r.part.target;
  EXPECT_NEAR(t.missing_g, 9, 0.03);
  ASSERT_EQ(t.pockets.size(), 1u);
  EXPECT_NEAR(t.pockets[0].volume_mm3, pocket, 0.01 * pocket);
  EXPECT_NEAR(t.pockets[0].depth, 8, 0.03);
  EXPECT_NEAR(t.pockets[0].plug_diameter, 16, 0.5);
  // The rim is rounded by up to half a voxel all round: pi x 16 x 0.1 = 5 mm2, and told in cells.
  EXPECT_NEAR(t.pockets[0].area_mm2, 64 * pi, 0.05 * 64 * pi);
  const run::InsertOption& brass = of(t, "brass");
  EXPECT_NEAR(brass.added_mm3, 1060.07, 4);
  EXPECT_EQ(brass.pocket, 1);
  EXPECT_NEAR(brass.plug_height, brass.added_mm3 / (pi / 4 * std::pow(brass.plug_diameter, 2)),
              1e-9);
  EXPECT_NEAR(brass.plug_diameter, 15.8, 0.5);
  EXPECT_LE(brass.plug_height, 8);
  EXPECT_NEAR(of(t, "tungsten").added_mm3, 467.5, 2);
  EXPECT_NEAR(of(t, "epoxy").added_mm3, 7826, 30);
  EXPECT_EQ(of(t, "epoxy").pocket, 0);
  EXPECT_NEAR(of(t, "filled epoxy").added_mm3, 1367.8, 5);
  EXPECT_EQ(of(t, "filled epoxy").pocket, 1);
  EXPECT_EQ(of(t, "filled epoxy").plug_diameter, 0);
}

// Nothing is let into a board, and nothing is bored out that is a quarter of the part or more.
TEST(Inserts, NoneForABoardAndNoneOfMostOfThePart) {
  const run::JobResult board = run_with(20, "mdf");
  EXPECT_GT(board.part.target.missing_g, 5);
  EXPECT_TRUE(board.part.target.inserts.empty());
  EXPECT_TRUE(board.part.target.pockets.empty());
  // 30 g missing: 30 / (8.49 - 2.70) = 5181 mm3 of brass for as much of 12791: more than a quarter.
  const run::JobResult much = run_with(left_g + 30);
  EXPECT_EQ(of(much.part.target, "brass").replaced_mm3, 0);
  // 10 g: 1727 mm3.
  EXPECT_NEAR(of(run_with(left_g + 10).part.target, "brass").replaced_mm3, 1727, 10);
}

// Thin as a plate, or thin about its pocket, the part has no room for a bore with 2 mm left about
// it, whatever its volume.
TEST(Inserts, NoneIsBoredWhereThereIsNoRoom) {
  const auto plate = [](const char* size, double target) {
    const pipeline::WorkFolder work;
    const Vec3 s = size[0] == 't' ? Vec3(90, 80, 3.5) : Vec3(30, 30, 20);
    work.file("part.stl", pipeline::prism_stl({{0, 0}, {s.x(), 0}, {s.x(), s.z()}, {0, s.z()}},
                                              {{0, 2, 1}, {0, 3, 2}}, 0, s.y()));
    work.file("a.nc",
              "G21 G90\nT1 M6\nS18000 M3\nG0 X5 Y5 Z5\nG1 Z-0.5 F200\nX8 F600\nG0 Z5\nM30\n");
    return work.run(fmt::format(
        "[simulation]\nvoxel = 0.4\n[stock]\nmaterial = \"6061-T6\"\nsize = [{}, {}, {}]\n"
        "[part]\nmesh = \"part.stl\"\ntolerance = {{ gouge = 20, excess = 20 }}\n"
        "target_mass_g = {}\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = "
        "20\nstickout = 30\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = {{ x = \"min\", y "
        "= \"min\", z = \"top\" }}\n",
        s.x(), s.y(), s.z(), target));
  };
  // 25200 mm3, 68.04 g; 72 g would be 3.96 / (8.49 - 2.70) = 684 mm3 of brass, a fortieth of it.
  EXPECT_EQ(of(plate("thin", 72).part.target, "brass").replaced_mm3, 0);
  // 18000 mm3, 48.6 g: 54 g are 933 mm3 of brass. One bore of 25 x 18 alone holds 8836.
  const run::MassTarget block = plate("block", 54).part.target;
  EXPECT_NEAR(of(block, "brass").replaced_mm3, 933, 20);
  ASSERT_FALSE(block.bores.empty());
  EXPECT_EQ(block.bores[0].diameter, 25);
  EXPECT_LE(block.bores[0].depth, 18);
  EXPECT_GT(block.bores[0].depth, 16.5);
}

TEST(Inserts, TooHeavyAndNoTarget) {
  const run::JobResult heavy = run_with(left_g - 3);
  EXPECT_NEAR(heavy.part.target.missing_g, -3, 0.03);
  EXPECT_TRUE(heavy.part.target.pockets.empty());
  // 3 g too much: 3 / (2.70 - 1.15) = 1935 mm3 of aluminium give way to epoxy, in the block's four
  // corners: with 2 mm left about each, 8 mm wide and 10 deep, 2010 mm3. 5 g have no room.
  EXPECT_NEAR(of(heavy.part.target, "epoxy").replaced_mm3, 3 / 1.55 * 1000, 20);
  EXPECT_EQ(heavy.part.target.bores.size(), 4u);
  EXPECT_EQ(of(run_with(left_g - 5).part.target, "epoxy").replaced_mm3, 0);
  EXPECT_EQ(of(heavy.part.target, "brass").replaced_mm3, 0);
  EXPECT_TRUE(run_with(0).part.target.inserts.empty());
}

TEST(Pockets, AThroughHoleHoldsNothingAndABlindOneIsMeasuredAtAnyAngle) {
  using stock::line;
  for (double degrees : {0.0, 17.0, 40.0}) {
    // Turned about z by any angle in the block's middle: a blind slot 6 wide, 10 + 6 long, 5 deep,
    // and a hole right through beside it.
    RigidMotion pose = RigidMotion::Identity();
    pose.translation() = Vec3(20, 20, 10);
    pose.linear() = Eigen::AngleAxisd(degrees / deg_per_rad, Vec3::UnitZ()).toRotationMatrix();
    const auto c = stock::cut_box({40, 40, 10}, 0.2, stock::tool_of(job::ToolShape::flat, 6),
                                  {line({-5, 5, 3}, {-5, 5, -5}), line({-5, 5, -5}, {5, 5, -5}),
                                   line({0, -8, 3}, {0, -8, -11})},
                                  pose);
    const auto found = measure::pockets(c.stock, pose, 0.25, 10);
    ASSERT_EQ(found.size(), 1u) << degrees;
    const double exact = 5 * (60 + 9 * pi);
    EXPECT_NEAR(found[0].volume_mm3, exact, 0.015 * exact) << degrees;
    EXPECT_NEAR(found[0].plugs.back().diameter, 6, 0.5) << degrees;
    EXPECT_NEAR(found[0].at.z(), -5, 0.03) << degrees;
  }
}

}  // namespace
}  // namespace proveout::checks
