// A part that is gone leaves no surface to ask, so it is asked from its own side. Part 24 x 16 x 8
// on the bottom of a block 40 x 30 x 20; the block is faced down over and over to a height: truth
// is the box above that height.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

constexpr double part_top = 8;
const std::string part_8_high = box_stl({8, 7, 0}, {32, 23, part_top});

// Faces the whole block down to a height above its bottom (mm), ten millimetres a level or less.
Small faced_to(double height, const std::string& voxel) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\ntolerance = { gouge = 0.05, excess = 50 }\n";
  s.voxel = voxel;
  s.tool = "diameter = 10\nflute_length = 22\nstickout = 40\n";
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-30 Y-20 Z5\n";
  for (double left = 12; left >= height; left -= 4) {
    for (double y = -16; y <= 16; y += 4)
      s.program += fmt::format("G0 X-30 Y{}\nG1 Z{} F900\nG1 X30\nG0 Z5\n", y, left - 20);
  }
  s.program += "M30\n";
  return s;
}

TEST(MissingPart, SpeaksOfAPartFacedAwayWhollyOrHalf) {
  for (const char* voxel : {"voxel = 0.25\n", "voxel = 0.5\n"}) {
    for (const double height : {0.0, 4.0}) {
      const Ran ran = run_small(faced_to(height, voxel), part_8_high);
      ASSERT_TRUE(ran.result);
      const double truth = 24 * 16 * (part_top - height);
      const Finding* f = ran.first(FindingKind::gouge, height == 0 ? "part-lost" : "missing");
      ASSERT_NE(f, nullptr) << voxel << height << "\n" << ran.words();
      EXPECT_EQ(f->level, Severity::error);
      EXPECT_NEAR(ran.result->part.gouge_mm3, truth, 0.1 * truth) << voxel << height;
      EXPECT_GT(ran.result->part.worst_gouge, 3.5);
    }
  }
}

TEST(MissingPart, SilentOfAPartThatStands) {
  const Ran ran = run_small(faced_to(part_top, "voxel = 0.25\n"), part_8_high);
  ASSERT_TRUE(ran.result);
  EXPECT_FALSE(ran.has(FindingKind::gouge)) << ran.words();
  EXPECT_LT(ran.result->part.worst_gouge, 0.05);
}

}  // namespace
}  // namespace proveout::checks
