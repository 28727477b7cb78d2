// What a run says of surface no setup reaches, and of tools that stand far out.
#include "sim/checks/reach_findings.h"

#include <gtest/gtest.h>

#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

// A plate with a slot 4 wide and 8 deep along y: a 6 mm cutter fits neither its floor nor its
// walls, 30 (4 + 2 x 8) = 600 mm2 but for what it pokes into at the open ends.
std::string slotted() {
  return prism_stl({{0, 0}, {40, 0}, {40, 12}, {22, 12}, {22, 4}, {18, 4}, {18, 12}, {0, 12}},
                   {{0, 4, 1}, {0, 5, 4}, {1, 3, 2}, {1, 4, 3}, {0, 7, 6}, {0, 6, 5}}, 0, 30);
}

run::JobResult run_with(double diameter, double stickout, bool both_sides) {
  const WorkFolder work;
  work.file("part.stl", slotted());
  work.file("a.nc", "G21 G90\nT1 M6\nS18000 M3\nG0 X-10 Y0 Z5\nG0 Z-1\nG1 Y30 F600\nG0 Z5\nM30\n");
  std::string text =
      "[simulation]\nvoxel = 0.5\n[stock]\nsize = [40, 30, 12]\n[part]\nmesh = "
      "\"part.stl\"\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = " +
      std::to_string(diameter) + "\nflute_length = 12\nstickout = " + std::to_string(stickout) +
      "\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"min\", z = "
      "\"top\" }\n";
  if (both_sides)
    text +=
        "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nturn = [{ about = \"y\", degrees = 180 "
        "}]\nzero = { x = \"min\", y = \"min\", z = \"top\" }\n";
  return work.run(text);
}

const Finding* of(const run::JobResult& r, FindingKind kind, const std::string& detail = "") {
  for (const Finding& f : r.findings) {
    if (f.kind == kind && f.detail == detail) return &f;
  }
  return nullptr;
}

TEST(Unreached, ASlotTooNarrowAndAnUndersideNobodySees) {
  const run::JobResult r = run_with(6, 20, false);
  const Finding* tight = of(r, FindingKind::unreached, "too tight");
  ASSERT_NE(tight, nullptr);
  EXPECT_NEAR(tight->value, 600, 0.15 * 600);
  EXPECT_EQ(tight->level, Severity::warning);
  const Finding* hidden = of(r, FindingKind::unreached, "undercut");
  ASSERT_NE(hidden, nullptr);
  EXPECT_NEAR(hidden->value, 40 * 30, 0.02 * 1200);
}

TEST(Unreached, NothingWhereBothSidesAreMilledWithACutterThatFits) {
  const run::JobResult r = run_with(3.5, 14, true);
  EXPECT_EQ(of(r, FindingKind::unreached, "too tight"), nullptr);
  EXPECT_EQ(of(r, FindingKind::unreached, "undercut"), nullptr);
  for (const run::NotChecked& n : r.not_checked) {
    EXPECT_NE(n.what, "unreached");
    EXPECT_NE(n.what, "over-reach");
  }
}

TEST(OverReach, ByDiametersOut) {
  // 20 / 6 = 3.3, 30 / 6 = 5, 54 / 6 = 9 diameters.
  EXPECT_EQ(of(run_with(6, 20, false), FindingKind::over_reach), nullptr);
  const run::JobResult far = run_with(6, 30, false);
  const Finding* note = of(far, FindingKind::over_reach);
  ASSERT_NE(note, nullptr);
  EXPECT_EQ(note->level, Severity::note);
  EXPECT_NEAR(note->value, 5, 1e-9);
  const run::JobResult special = run_with(6, 54, false);
  const Finding* warning = of(special, FindingKind::over_reach);
  ASSERT_NE(warning, nullptr);
  EXPECT_EQ(warning->level, Severity::warning);
  EXPECT_NEAR(warning->value, 9, 1e-9);
}

}  // namespace
}  // namespace proveout::checks
