// What of a job's figures depends on the voxel: one job at four voxels against closed forms. Prints
// the table of docs/accuracy.md. Cuts along y through a block of 50 x 40 x 12: a slot, a ball's
// groove, and three skims a tenth of a voxel and less to half a voxel deep.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <string>
#include <vector>

#include "tests/sim/pipeline/work_folder.h"

namespace proveout::pipeline {
namespace {

const double length = 40, width = 50, height = 12;
const double slot_deep = 4, groove_radius = 3, vee_deep = 0.1, skim_deep = 0.05;
const double planted = 0.3;  // mm: the part's slot is so much deeper than the one that is cut

struct Row {
  const char* name;
  double truth;
  const char* unit;
  double most_off;  // allowed, same unit; 0: not held (skims)
};

std::string program() {
  struct Pass {
    int tool;
    double x, z;
  };
  std::string out = "G21 G90\n";
  for (const Pass& p : {Pass{1, 8, -slot_deep}, Pass{2, 18, -groove_radius}, Pass{3, 25, -vee_deep},
                        Pass{4, 33, -skim_deep}, Pass{5, 43, -skim_deep}}) {
    char line[200];
    std::snprintf(line, sizeof line,
                  "T%d M6\nS12000 M3\nG0 X%g Y-10 Z5\nG0 Z%g\nG1 Y50 F600\nG0 Z5\n", p.tool, p.x,
                  p.z);
    out += line;
  }
  return out + "M30\n";
}

std::string job_of(double voxel) {
  std::string out = "[simulation]\nvoxel = " + std::to_string(voxel) +
                    "\n[stock]\nsize = [50, 40, 12]\n[part]\nmesh = \"part.stl\"\n";
  const auto tool = [&](int number, const char* shape, double diameter, const char* more) {
    out += "[[tools]]\nnumber = " + std::to_string(number) + "\nshape = \"" + shape +
           "\"\ndiameter = " + std::to_string(diameter) + "\nflute_length = 15\nstickout = 30\n" +
           more;
  };
  tool(1, "flat", 6, "");
  tool(2, "ball", 6, "");
  tool(3, "vee", 10, "tip_angle = 90\n");
  tool(4, "flat", 6, "");
  tool(5, "ball", 6, "");
  return out +
         "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"min\", z = "
         "\"top\" }\n";
}

double ball_skim() {
  const double r = groove_radius, d = skim_deep;
  return length * (r * r * std::acos((r - d) / r) - (r - d) * std::sqrt(2 * r * d - d * d));
}

std::vector<double> figures(double voxel) {
  const WorkFolder work;
  work.file("a.nc", program());
  const double floor = height - slot_deep - planted;
  work.file(
      "part.stl",
      prism_stl({{0, 0},
                 {width, 0},
                 {width, height},
                 {11, height},
                 {11, floor},
                 {5, floor},
                 {5, height},
                 {0, height}},
                {{0, 6, 5}, {0, 7, 6}, {0, 5, 1}, {1, 5, 4}, {1, 4, 3}, {1, 3, 2}}, 0, length));
  const run::JobResult r = work.run(job_of(voxel));
  std::map<int, double> removed;
  for (const run::ToolResult& t : r.setups[0].tools) removed[t.number] = t.removed_mm3;
  return {removed[1],        removed[2],         removed[3],         removed[4],
          removed[5],        r.part.volume_mm3,  r.part.centre.z(),  r.part.gouge_mm3,
          r.part.excess_mm3, r.part.worst_gouge, r.part.worst_excess};
}

TEST(VoxelTable, FiguresOfOneJobAtFourVoxels) {
  const double slot = 6 * slot_deep * length, groove = pi / 2 * 9 * length;
  const double vee = vee_deep * vee_deep * length, skim = 6 * skim_deep * length;
  const double gone = slot + groove + vee + skim + ball_skim();
  const double left = width * length * height - gone;
  // First moments below the top of what is gone; of a half disc 4 r / 3 pi.
  const double moment = slot * slot_deep / 2 + groove * 4 * groove_radius / (3 * pi) +
                        vee * vee_deep / 3 + skim * skim_deep / 2 + ball_skim() * 0.4 * skim_deep;
  const double centre = (width * length * height * height / 2 - (gone * height - moment)) / left;
  const std::vector<Row> rows = {{"removed, slot 4 deep", slot, "mm3", 0.01 * slot},
                                 {"removed, ball groove 3 deep", groove, "mm3", 0.01 * groove},
                                 {"removed, vee skim 0.1 deep", vee, "mm3", 0},
                                 {"removed, flat skim 0.05 deep", skim, "mm3", 0},
                                 {"removed, ball skim 0.05 deep", ball_skim(), "mm3", 0},
                                 {"volume left", left, "mm3", 0.002 * left},
                                 {"centre of mass, z", centre, "mm", 0.01},
                                 {"missing, gouge_mm3", gone - slot, "mm3", 0.003 * gone},
                                 {"left on, excess_mm3", 6 * planted * length, "mm3", 0.3},
                                 {"deepest missing", groove_radius, "mm", 0.01},
                                 {"highest left on", planted, "mm", 0.001}};
  std::vector<double> voxels = {0.2, 0.4, 0.8};
  if (std::getenv("PROVEOUT_SOAK") != nullptr) voxels.insert(voxels.begin(), 0.1);
  std::vector<std::vector<double>> off(rows.size());
  for (const double voxel : voxels) {
    const std::vector<double> found = figures(voxel);
    ASSERT_EQ(found.size(), rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      off[i].push_back(found[i] - rows[i].truth);
      if (rows[i].most_off > 0) {
        EXPECT_LE(std::abs(off[i].back()), rows[i].most_off)
            << rows[i].name << " at a voxel of " << voxel;
      }
    }
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    std::printf("| %s | %.4f %s |", rows[i].name, rows[i].truth, rows[i].unit);
    for (const double e : off[i]) std::printf(" %+.4f |", e);
    std::printf("\n");
  }
}

}  // namespace
}  // namespace proveout::pipeline
