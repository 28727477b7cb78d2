// A support's box that reaches into the part: only what lies outside is taken off, and it is said.
//
// Plate 40 x 30 x 10; the part is the box [8, 32] x [8, 22] of it, cut out all round but for 8 mm
// of its right wall. Figures by hand.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/sim/checks/planted_job.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

run::JobResult with_support(double from_x) {
  const pipeline::WorkFolder work;
  work.file("part.stl", box_stl({8, 8, 0}, {32, 22, 10}));
  work.file("a.nc",
            "G21 G90\nT1 M6\nS9000 M3\nG0 X34 Y19 Z5\nG1 Z-10.2 F300\nY24\nX6\nY6\nX34\nY11\n"
            "G0 Z5\nM30\n");
  return work.run(fmt::format(
      "[simulation]\nvoxel = 0.25\n[stock]\nsize = [40, 30, 10]\nmaterial = \"6061-T6\"\n[part]\n"
      "mesh = \"part.stl\"\ntolerance = {{ gouge = 0.1, excess = 0.2 }}\n[[part.supports]]\n"
      "box = [[{}, 8, -1], [37, 22, 11]]\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 4\n"
      "flute_length = 15\nstickout = 30\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = {{ x "
      "= \"min\", y = \"min\", z = \"top\" }}\n",
      from_x));
}

const Finding* said(const run::JobResult& r) {
  const auto f = std::find_if(r.findings.begin(), r.findings.end(),
                              [](const Finding& g) { return g.detail == "support-in-part"; });
  return f == r.findings.end() ? nullptr : &*f;
}

TEST(SupportsInPart, WhatReachesInTakesNothingOfThePartAndIsSaid) {
  for (const double in : {1.5, 3.0}) {
    const run::JobResult r = with_support(32 - in);
    const Finding* f = said(r);
    ASSERT_NE(f, nullptr) << in;
    EXPECT_EQ(f->level, Severity::note);
    EXPECT_NEAR(f->value, in, 0.1);
    EXPECT_NE(f->text.find(fmt::format("{:.1f} mm into the part", f->value)), std::string::npos);
    EXPECT_NEAR(r.part.volume_mm3, 24 * 14 * 10, 0.01 * 24 * 14 * 10);
    EXPECT_LT(r.part.worst_gouge, 0.1);
    EXPECT_LT(r.part.worst_excess, 0.2);
  }
}

TEST(SupportsInPart, OneThatEndsAtItIsSilent) {
  const run::JobResult r = with_support(32);
  EXPECT_EQ(said(r), nullptr) << said(r)->text;
  EXPECT_NEAR(r.part.volume_mm3, 24 * 14 * 10, 0.01 * 24 * 14 * 10);
}

}  // namespace
}  // namespace proveout::checks
