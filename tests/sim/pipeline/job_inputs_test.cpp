// What a job's inputs say of each other before anything is cut: parts in inches, voxels too coarse,
// tools, materials and offsets nobody gave.
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "sim/run/inputs.h"
#include "tests/sim/checks/planted_job.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

// Cuts 30 x 24 mm about the middle of the block.
constexpr const char* round_the_block =
    "G21 G90\nT1 M6\nS9000 M3\nG0 X-15 Y-12 Z5\nG1 Z-4 F200\nX15 F900\nY12\nX-15\nY-12\nG0 Z5\n"
    "M30\n";

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

// A blank in the other unit: tenfold off along both sides. A small part in a long bar or in the
// corner of a thin sheet is none.
TEST(JobInputs, BlankInTheOtherUnit) {
  for (const auto& [size, doubtful] :
       std::vector<std::pair<const char*, bool>>{{"[1016, 762, 508]", true},
                                                 {"[40, 30, 20]", false},
                                                 {"[1016, 60, 20]", false},
                                                 {"[1220, 610, 6]", false}}) {
    Small s;
    s.program = round_the_block;
    const pipeline::WorkFolder work;
    std::string job = s.text();
    const std::string usual = "[40, 30, 20]";
    job.replace(job.find(usual), usual.size(), size);
    work.file("a.nc", s.program);
    Diagnostics d;
    const auto read = job::read_job(work.file("job.toml", job), d);
    ASSERT_TRUE(read);
    EXPECT_TRUE(run::read_inputs(*read, s.material, {}, d));
    const bool said = std::any_of(d.all().begin(), d.all().end(), [](const Diagnostic& one) {
      return one.code == "blank-unit-doubtful";
    });
    EXPECT_EQ(said, doubtful) << size;
  }
}

// A blank's mesh in the other unit, either way; the unit it is in makes it as large as its box.
TEST(JobInputs, BlankMeshUnits) {
  struct Case {
    Vec3 size;  // in the mesh file
    const char* units;
    bool doubtful;
    Vec3 read;  // mm
  };
  const Vec3 block(40, 30, 20);
  for (const Case& c : std::vector<Case>{
           {block, "", false, block},
           {block, "mesh_units = \"mm\"\n", false, block},
           {block / 25.4, "mesh_units = \"inch\"\n", false, block},
           {block / 25.4, "", true, block / 25.4},
           {block, "mesh_units = \"inch\"\n", true, block * 25.4},
           // Too small beside the cuts of 30 x 24 mm by less than tenfold, and none that is milled.
           {Vec3(5, 4, 2), "", true, Vec3(5, 4, 2)},
           // A long bar is none of the other unit.
           {Vec3(1000, 30, 20), "", false, Vec3(1000, 30, 20)}}) {
    Small s;
    s.program = round_the_block;
    const pipeline::WorkFolder work;
    std::string job = s.text();
    const std::string usual = "size = [40, 30, 20]\n";
    job.replace(job.find(usual), usual.size(), std::string("mesh = \"blank.stl\"\n") + c.units);
    work.file("a.nc", s.program);
    work.file("blank.stl", box_stl(Vec3::Zero(), c.size));
    Diagnostics d;
    const auto read = job::read_job(work.file("job.toml", job), d);
    ASSERT_TRUE(read);
    const auto inputs = run::read_inputs(*read, s.material, {}, d);
    ASSERT_TRUE(inputs);
    EXPECT_LT((inputs->blank.sizes() - c.read).norm(), 1e-3) << c.size.transpose() << c.units;
    const bool said = std::any_of(d.all().begin(), d.all().end(), [](const Diagnostic& one) {
      return one.code == "blank-unit-doubtful" &&
             one.remedy.find("[stock] mesh_units") != std::string::npos;
    });
    EXPECT_EQ(said, c.doubtful) << c.size.transpose() << " " << c.units;
  }
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

// A band beside the piece: its frame is told, what the piece measures there (the block of 20 mm, by
// construction), and the band that was meant where heights are a program's Z from the top.
TEST(JobInputs, ABandInAnotherFrame) {
  const auto band = [](const char* range) {
    Small s;
    s.voxel = "voxel = 1\n";
    s.setup = fmt::format(
        "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nzero = {{ on = \"milled\", x = \"min\", y = "
        "\"min\", z = \"top\", band = {} }}\n",
        range);
    const Ran ran = run_small(s);
    std::string said;
    for (const Diagnostic& d : ran.diagnostics.all()) said += to_text(d) + "\n";
    EXPECT_EQ(ran.result.has_value(), said.find("band-empty") == std::string::npos) << said;
    return said;
  };
  const std::string from_top = band("[-8, -2]");
  for (const char* words : {"the piece is 20 mm high there", "counts from the lowest material",
                            "[-8, -2] from the top down is [12, 18] in it"})
    EXPECT_NE(from_top.find(words), std::string::npos) << words << "\nin\n" << from_top;
  const std::string above = band("[25, 30]");
  EXPECT_NE(above.find("the piece is 20 mm high there"), std::string::npos) << above;
  EXPECT_EQ(above.find("from the top down"), std::string::npos) << above;
  EXPECT_EQ(band("[4, 18]").find("band-empty"), std::string::npos);
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
