// The stick-out a program needs, against plane geometry: the highest thing under the holder over
// the lowest the tip goes there. Cells of a millimetre: never too small, by less than 1.5 mm too
// large.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "sim/pipeline/reach_tracker.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::pipeline {
namespace {

// Block 60 x 40 x 20, zero on the middle of its top; a slot along x at a depth, with a 6 mm cutter
// under a holder of 30 mm.
double needed(double depth, const std::string& fixtures) {
  const WorkFolder folder;
  folder.file("a.nc",
              fmt::format("G21 G90\nT1 M6\nS9000 M3\nG0 X-20 Y0\nG0 Z60\nG1 Z-{} F300\nG1 X0\n"
                          "G0 Z60\nM30\n",
                          depth));
  // A post as a mesh: 4 x 18 mm, from the block's bottom to 25 over its top, on its own origin.
  std::string post = "";
  for (int k = 0; k < 8; ++k)
    post += fmt::format("v {} {} {}\n", (k & 1) * 4, (k >> 1 & 1) * 18, (k >> 2) * 45);
  for (const char* f : {"1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"})
    post += fmt::format("f {}\n", f);
  folder.file("post.obj", post);
  const run::JobResult r = folder.run(
      "[simulation]\nvoxel = 0.5\n[stock]\nsize = [60, 40, 20]\n[[tools]]\nnumber = 1\nshape = "
      "\"flat\"\ndiameter = 6\nflute_length = 20\nstickout = 40\nholder = [[30, "
      "10]]\n[[setups]]\nname "
      "= \"A\"\nprogram = \"a.nc\"\nzero = { x = \"centre\", y = \"centre\", z = \"top\" }\n" +
      fixtures);
  return r.setups.at(0).tools.at(0).stickout_needed;
}

void expect_needed(double depth, const std::string& fixtures, double wanted) {
  const double got = needed(depth, fixtures);
  EXPECT_GE(got, wanted - 1e-3) << depth << ' ' << fixtures;
  EXPECT_LT(got, wanted + 1.5) << depth << ' ' << fixtures;
}

TEST(StickoutNeeded, IsTheDepthBelowTheTopOfTheStock) {
  expect_needed(2, "", 2);
  expect_needed(7.5, "", 7.5);
}

// A rapid from 100 km away, down and sideways, in a hundred million steps: what it takes is told
// by its end alone.
TEST(StickoutNeeded, FromFarAway) {
  measure::HeightMap map;
  map.cell = 1;
  map.columns = 60;
  map.rows = 40;
  map.height.assign(std::size_t{60} * 40, 20);
  job::Tool t;
  t.number = 1;
  t.diameter = 6;
  t.flute_length = 20;
  t.stickout = 40;
  t.holder = {{30, 10}};
  const std::map<int, solid::ToolBody> bodies{{1, solid::make_tool_body(t)}};
  nc::Program program;
  program.states.resize(1);
  program.states[0].tool = 1;
  for (const Vec3& from : {Vec3(30, 20, 1e8), Vec3(30 + 1e8, 20, 1e8), Vec3(30, 20 - 1e8, 12)}) {
    nc::Motion m;
    m.start = from;
    m.end = Vec3(30, 20, 12);
    program.motions = {m};
    const auto reach = ReachTracker(map, bodies, {}).follow(program);
    EXPECT_NEAR(reach.at(1).stickout_needed, 8, 1e-6) << from.transpose();
  }
}

// A post of 25 mm at y = 12 to 30, x = -2 to 2: the holder over X0 reaches to y = 15.
TEST(StickoutNeeded, CountsFixturesUnderTheHolder) {
  const auto box = [](double y, double top) {
    return fmt::format("fixtures = [{{ name = \"post\", box = [[-2, {}, -20], [2, {}, {}]] }}]\n",
                       y, y + 18, top);
  };
  expect_needed(2, box(12, 25), 27);
  expect_needed(7.5, box(14.5, 25), 32.5);
  expect_needed(2, box(15.5, 25), 2);  // beyond the holder's reach
  expect_needed(2, box(12, -5), 2);    // lower than the stock
  expect_needed(
      2, "fixtures = [{ name = \"post\", mesh = \"post.obj\", origin = [-2, 12, -20] }]\n", 27);
  expect_needed(
      2, "fixtures = [{ name = \"post\", mesh = \"post.obj\", origin = [-2, 16.5, -20] }]\n", 2);
}

}  // namespace
}  // namespace proveout::pipeline
