// What a job's inputs say of each other before anything is cut: parts in inches, voxels too coarse,
// tools, materials and offsets nobody gave.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

// A mesh in inches read as millimetres.
TEST(JobInputs, PartInInches) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\n";
  const std::string inches = box_stl(Vec3::Zero(), Vec3(40, 30, 17) / 25.4);
  EXPECT_TRUE(run_small(s, inches).said("part-small"));
  s.part += "mesh_units = \"inch\"\n";
  EXPECT_FALSE(run_small(s, inches).said("part-small"));
}

// Small parts from a long bar: as inches this one would stand out of it.
TEST(JobInputs, ASmallPartFromABarIsNoMistake) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\n";
  EXPECT_FALSE(run_small(s, box_stl(Vec3::Zero(), Vec3(1.5, 1.5, 0.9))).said("part-small"))
      << "0.9 inches are 22.9 mm, the block is 20 mm thick";
  EXPECT_TRUE(run_small(s, box_stl(Vec3::Zero(), Vec3(1.5, 1.1, 0.7))).said("part-small"));
}

// A fine cutter that stands in the rack and is not used makes no voxel coarse.
TEST(JobInputs, AToolNobodyUsesIsNotTooFine) {
  Small s;
  s.setup = "[[tools]]\nnumber = 2\nshape = \"ball\"\ndiameter = 0.5\n";
  EXPECT_FALSE(run_small(s).said("voxel-coarse"));
  s.program =
      "G21 G90\nT1 M6\nS9000 M3\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nT2 M6\nS9000 M3\nG0 X5 "
      "Y0\nG1 Z-1 F100\nG0 Z5\nM30\n";
  EXPECT_TRUE(run_small(s).said("voxel-coarse"));
}

TEST(JobInputs, VoxelTooCoarse) {
  Small s;
  EXPECT_FALSE(run_small(s).said("voxel-coarse"));
  s.voxel = "voxel = 2.1\n";  // of a tool of 6 mm
  EXPECT_TRUE(run_small(s).said("voxel-coarse"));
  s.voxel = "voxel = 10.5\n";  // of a blank 20 mm thick
  const Ran coarse = run_small(s);
  EXPECT_FALSE(coarse.result);
  EXPECT_TRUE(coarse.said("voxel-too-coarse"));
}

TEST(JobInputs, ToolsMaterialsAndOffsetsNobodyGave) {
  Small s;
  s.program = "G21 G90\nT7 M6\nS9000 M3\nG0 X0 Y-25 Z5\nG1 Z-1 F300\nM30\n";
  const Ran unknown = run_small(s);
  EXPECT_FALSE(unknown.result);
  EXPECT_TRUE(unknown.said("unknown-tool"));
  s.program = "G21 G90\nS9000 M3\nG0 X0 Y-25 Z5\nG1 Z-1 F300\nM30\n";
  const Ran none = run_small(s);
  EXPECT_FALSE(none.result);
  EXPECT_TRUE(none.said("no-tool"));
  s.setup = "tool = 1\n";
  EXPECT_TRUE(run_small(s).result);
  s.program = "G21 G90 G55\nT1 M6\nS9000 M3\nG0 X0 Y-25 Z5\nM30\n";
  const Ran offset = run_small(s);
  EXPECT_FALSE(offset.result);
  EXPECT_TRUE(offset.said("work-offset-not-placed"));
  Small m;
  m.material = "tungsten";  // in the table, but nothing to cut with these tools
  const Ran hard = run_small(m);
  EXPECT_FALSE(hard.result);
  EXPECT_TRUE(hard.said("material-unknown"));
}

// A thirtieth of the smallest tool, on a round step.
TEST(Voxel, ChosenFromTheSmallestTool) {
  Small s;
  s.voxel = "";
  EXPECT_NEAR(run_small(s).result->voxel, 0.2, 1e-12);
  s.tool = "diameter = 10\nflute_length = 15\nstickout = 30\n";
  EXPECT_NEAR(run_small(s).result->voxel, 0.4, 1e-12);
}

}  // namespace
}  // namespace proveout::checks
