// Pieces that come free: how large, where, and after which line.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "tests/sim/checks/planted_job.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

// A frame is cut round a 12 x 12 mm island, right through, in four straight passes; the last piece
// of wall goes in the fourth, half way along it: the island comes free there and not before.
TEST(CameLoose, SpeaksOfTheLineAtWhichAPieceComesFree) {
  const pipeline::WorkFolder work;
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
  const auto result = pipeline::dry_run(*read, {}, diagnostics);
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
TEST(CameLoose, SpeaksOfEveryPieceIsToldAndTheLargestWithTheirLines) {
  const pipeline::WorkFolder work;
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

TEST(CameLoose, SilentWhereABridgeStays) {
  Small s;  // the slot stops 2 mm short of going through the 20 mm block
  s.tool = "diameter = 6\nflute_length = 25\nstickout = 30\n";
  s.depth = 18;
  EXPECT_FALSE(run_small(s).has(FindingKind::came_loose));
  s.depth = 20.5;
  EXPECT_TRUE(run_small(s).has(FindingKind::came_loose));
}

}  // namespace
}  // namespace proveout::checks
