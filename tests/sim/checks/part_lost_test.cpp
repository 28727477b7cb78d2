// A part that is gone leaves no surface to ask, so it is asked from its own side. Part 24 x 16 x 8
// on the bottom of a block 40 x 30 x 20; the block is faced down over and over to a height: truth
// is the box above that height.
#include <gtest/gtest.h>

#include <cmath>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

constexpr double part_top = 8;
const std::string part_8_high = box_stl({8, 7, 0}, {32, 23, part_top});

// Faces the whole block down to a height above its bottom (mm), four millimetres a level; the
// program in mm or in inches.
Small faced_to(double height, const std::string& voxel, double unit = 1) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\ntolerance = { gouge = 0.05, excess = 50 }\n";
  s.voxel = voxel;
  s.tool = "diameter = 10\nflute_length = 22\nstickout = 40\n";
  const auto mm = [&](double v) { return fmt::format("{:.6f}", v / unit); };
  s.program = std::string(unit == 1 ? "G21" : "G20") + " G90\nT1 M6\nS10000 M3\nG0 X" + mm(-30) +
              " Y" + mm(-20) + " Z" + mm(5) + "\n";
  for (double left = 12; left >= height; left -= 4) {
    for (double y = -16; y <= 16; y += 4) {
      s.program += "G0 X" + mm(-30) + " Y" + mm(y) + "\nG1 Z" + mm(left - 20) + " F" + mm(900) +
                   "\nG1 X" + mm(30) + "\nG0 Z" + mm(5) + "\n";
    }
  }
  s.program += "M30\n";
  return s;
}

long count(const Ran& ran, FindingKind kind) {
  return std::count_if(ran.result->findings.begin(), ran.result->findings.end(),
                       [&](const Finding& f) { return f.kind == kind; });
}

TEST(PartLost, SpeaksOnceOfAPartFacedAway) {
  for (const char* voxel : {"voxel = 0.25\n", "voxel = 0.5\n"}) {
    for (const double unit : {1.0, 25.4}) {
      const Ran ran = run_small(faced_to(0, voxel, unit), part_8_high);
      ASSERT_TRUE(ran.result);
      const Finding* f = ran.first(FindingKind::part_lost);
      ASSERT_NE(f, nullptr) << voxel << "\n" << ran.words();
      EXPECT_EQ(f->level, Severity::error);
      EXPECT_EQ(count(ran, FindingKind::part_lost), 1);
      EXPECT_FALSE(ran.has(FindingKind::gouge)) << ran.words();
      EXPECT_FALSE(ran.has(FindingKind::cross_check)) << ran.words();
      EXPECT_NEAR(ran.result->part.gouge_mm3, 24 * 16 * part_top, 0.003 * 24 * 16 * part_top);
    }
  }
}

TEST(PartLost, FacedToHalfItIsAsDeepAsTheCut) {
  for (const char* voxel : {"voxel = 0.25\n", "voxel = 0.5\n"}) {
    for (const double unit : {1.0, 25.4}) {
      const Ran ran = run_small(faced_to(4, voxel, unit), part_8_high);
      ASSERT_TRUE(ran.result);
      const double truth = 24 * 16 * (part_top - 4);
      const Finding* f = ran.first(FindingKind::gouge);
      ASSERT_NE(f, nullptr) << voxel << "\n" << ran.words();
      EXPECT_EQ(f->level, Severity::error);
      EXPECT_NEAR(f->value, part_top - 4, 0.03) << ran.words();
      EXPECT_EQ(count(ran, FindingKind::gouge), 1) << ran.words();
      EXPECT_NE(f->line, 0u);
      EXPECT_FALSE(ran.has(FindingKind::cross_check)) << ran.words();
      EXPECT_FALSE(ran.has(FindingKind::part_lost)) << ran.words();
      EXPECT_NEAR(ran.result->part.gouge_mm3, truth, 0.003 * truth) << voxel;
      EXPECT_NEAR(ran.result->part.gouge_beyond_mm3, truth, 0.003 * truth) << voxel;
      EXPECT_NEAR(ran.result->part.worst_gouge_thickness, part_top - 4, 0.03);
    }
  }
}

TEST(PartLost, SilentOfAPartThatStands) {
  const Ran ran = run_small(faced_to(part_top, "voxel = 0.25\n"), part_8_high);
  ASSERT_TRUE(ran.result);
  for (const FindingKind kind :
       {FindingKind::gouge, FindingKind::part_lost, FindingKind::cross_check})
    EXPECT_FALSE(ran.has(kind)) << ran.words();
  EXPECT_LT(ran.result->part.worst_gouge, 0.05);
}

}  // namespace
}  // namespace proveout::checks
