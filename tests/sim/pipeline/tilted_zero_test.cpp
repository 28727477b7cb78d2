// A zero on milled faces of a piece that lies tilted, against trigonometry: of a block whose top
// and left side the first setup mills, the outermost corners. In mm and in inches, at coarse and
// fine voxels.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "sim/setup/pose.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::pipeline {
namespace {

const Vec3 blank(40, 30, 20);
const Vec3 milled_low(2.83, 0, 0), milled_high(40, 30, 17.3);  // what the first setup leaves

// mm: of one unit of the job and its programs.
std::string side_a(double mm) {
  const auto at = [&](double x, double y, double z) {
    return fmt::format("X{:.6f} Y{:.6f} Z{:.6f}", x / mm, y / mm, z / mm);
  };
  std::string out = mm == 1 ? "G21 G90\n" : "G20 G90\n";
  out += "T1 M6\nS18000 M3\nG0 " + at(-30, -20, 10) + "\n";
  const double z = milled_high.z() - blank.z();
  for (double y = -15; y <= 16; y += 4) {
    out +=
        "G0 " + at(-30, y, 10) + "\nG0 " + at(-30, y, z) + fmt::format("\nG1 F{:.3f} ", 900 / mm);
    out += at(30, y, z) + "\nG0 " + at(30, y, 10) + "\n";
  }
  const double x = milled_low.x() - 3 - blank.x() / 2;
  out += "G0 " + at(x, -30, 10) + "\nG0 " + at(x, -30, -22) + "\nG1 " + at(x, 30, -22) + "\nG0 " +
         at(x, 30, 10) + "\nM30\n";
  return out;
}

std::string job_text(double mm, double voxel, const std::string& turn, const std::string& zero) {
  const auto of = [&](double v) { return v / mm; };
  return fmt::format(
      "units = \"{}\"\n[simulation]\nvoxel = {:.8f}\n[stock]\nsize = [{:.8f}, {:.8f}, {:.8f}]\n"
      "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = {:.8f}\nflute_length = {:.8f}\n"
      "stickout = {:.8f}\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = {{ x = \"centre\", "
      "y "
      "= \"centre\", z = \"top\" }}\n[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = "
      "[{}]\nzero = {{ on = \"milled\", {} }}\n",
      mm == 1 ? "mm" : "inch", of(voxel), of(blank.x()), of(blank.y()), of(blank.z()), of(6),
      of(40), of(50), turn, zero);
}

struct Lying {
  std::string turn;
  std::vector<job::Turn> turns;
};

TEST(TiltedZero, LiesOnTheOutermostCornersOfWhatWasMilled) {
  using job::Axis;
  const std::vector<Lying> all = {
      {"{ about = \"y\", degrees = 30 }", {{Axis::y, 30}}},
      {"{ about = \"x\", degrees = -17 }, { about = \"z\", degrees = 8 }",
       {{Axis::x, -17}, {Axis::z, 8}}},
      {"{ about = \"y\", degrees = 180 }, { about = \"x\", degrees = 45 }",
       {{Axis::y, 180}, {Axis::x, 45}}}};
  for (const double mm : {1.0, 25.4}) {
    for (const double voxel : {0.2, 0.5, 1.0}) {
      const Lying& lying = all[voxel < 0.3 ? 0 : voxel < 0.8 ? 1 : 2];
      const WorkFolder work;
      work.file("a.nc", side_a(mm));
      work.file("b.nc", "G90\nT1 M6\nS9000 M3\nG0 X0 Y0 Z2\nG1 X0.5 F20\nG0 Z3\nM30\n");
      const run::JobResult r =
          work.run(job_text(mm, voxel, lying.turn, "x = \"min\", y = \"max\", z = \"top\""));
      ASSERT_EQ(r.setups.size(), 2u);
      const Eigen::Matrix3d turn = setup::machine_from_stock_rotation(lying.turns);
      const Box3 box = setup::turned(Box3(milled_low, milled_high), turn);
      const Vec3 truth(box.min().x(), box.max().y(), box.max().z());
      const Vec3 off = turn * r.setups[1].zero_in_stock - truth;
      EXPECT_LT(off.cwiseAbs().maxCoeff(), 0.02 * voxel)
          << lying.turn << ", voxel " << voxel << ", unit of " << mm << " mm";
      EXPECT_TRUE(std::none_of(r.remarks.begin(), r.remarks.end(),
                               [](const Diagnostic& d) { return d.code == "zero-uncertain"; }));
    }
  }
}

// A step 4 mm wide and 15 deep all round a block 40 x 30 x 20, then turned over: its ledge lies 15
// mm above the lowest material. A band that ends there took in as much of the ledge as the grid's
// points happened to lie on.
TEST(MilledZero, ABandThatEndsAtALedgeLeavesItOutAndSaysSo) {
  std::string side_a = "G21 G90\nT1 M6\nS9000 M3\n";
  for (const int z : {-5, -10, -15})
    side_a += fmt::format("G0 X-19 Y-24 Z5\nG1 Z{} F200\nG1 Y14 F600\nX19\nY-14\nX-19\nG0 Z5\n", z);
  struct Case {
    const char* band;
    double zero;
    bool said;
  };
  for (const double voxel : {0.3, 0.7}) {
    int n = voxel < 0.5 ? 0 : 1;  // each case once turned about x, once about y
    for (const Case& c :
         {Case{"[2, 15]", 4, true}, Case{"[2, 15.05]", 4, true}, Case{"[2, 12]", 4, false},
          Case{"[2, 14]", 4, false}, Case{"[1, 17.5]", 0, false}, Case{"[15.0, 19]", 0, false}}) {
      const char* turn =
          n++ % 2 == 0 ? "{ about = \"x\", degrees = 180 }" : "{ about = \"y\", degrees = 180 }";
      const WorkFolder work;
      work.file("a.nc", side_a + "M30\n");
      work.file("b.nc", "G90\nT1 M6\nS9000 M3\nG0 X0 Y0 Z2\nG1 X0.5 F20\nG0 Z3\nM30\n");
      const run::JobResult r = work.run(fmt::format(
          "[simulation]\nvoxel = {}\n[stock]\nsize = [40, 30, 20]\n[[tools]]\nnumber = 1\n"
          "shape = \"flat\"\ndiameter = 6\nflute_length = 20\nstickout = 30\n[[setups]]\nname = "
          "\"A\"\nprogram = \"a.nc\"\nzero = {{ x = \"centre\", y = \"centre\", z = \"top\" }}\n"
          "[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = [{}]\nzero = {{ on = \"milled\", "
          "x = "
          "\"min\", y = \"min\", z = \"top\", band = {} }}\n",
          voxel, turn, c.band));
      SCOPED_TRACE(fmt::format("voxel {} band {} {}", voxel, c.band, turn));
      ASSERT_EQ(r.setups.size(), 2u);
      const Vec3& zero = r.setups[1].zero_in_stock;
      EXPECT_NEAR(std::min(zero.x(), 40 - zero.x()), c.zero, 0.02 * voxel);
      EXPECT_NEAR(std::min(zero.y(), 30 - zero.y()), c.zero, 0.02 * voxel);
      EXPECT_EQ(std::any_of(r.remarks.begin(), r.remarks.end(),
                            [](const Diagnostic& d) { return d.code == "zero-uncertain"; }),
                c.said);
    }
  }
}

}  // namespace
}  // namespace proveout::pipeline
