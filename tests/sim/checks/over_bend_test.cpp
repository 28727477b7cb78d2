// Bend on a deep face.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "tests/sim/checks/planted_job.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

// The fourth-power rule on a deep face: the same cut at the same stick-out, once with a 1/4 inch
// and once with a 3/8 inch tool, fluted all the way. The tool bends (3/8 / 1/4)^4 = 5.06 times
// less; the small one is flagged, the larger passes.
TEST(OverBend, SpeaksOfTheThinToolAndIsSilentOnTheThick) {
  const auto face = [](double diameter) {
    const pipeline::WorkFolder work;
    work.file(
        "face.nc",
        fmt::format(
            "G21 G90\nT1 M6\nS16000 M3\nG0 X{0:.4f} Y-12 Z5\nG0 Z-26\nG1 Y42 F250\nG0 Z5\nM30\n",
            0.15 - diameter / 2));
    const std::string text = fmt::format(
        "[simulation]\nvoxel = 0.15\n[stock]\nsize = [12, 30, 30]\n[[tools]]\nnumber = 1\nshape = "
        "\"flat\"\ndiameter = {}\n"
        "flutes = 2\nhelix_angle = 0\nflute_length = 45\nstickout = 45\nlimits = {{ axial_depth = "
        "30 }}\n[[setups]]\nname = \"A\"\n"
        "program = \"face.nc\"\nzero = {{ x = \"min\", y = \"min\", z = \"top\" }}\n",
        diameter);
    Diagnostics diagnostics;
    const auto read = job::read_job(work.file("job.toml", text), diagnostics);
    EXPECT_TRUE(read) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
    auto result = pipeline::dry_run(*read, {}, diagnostics);
    EXPECT_TRUE(result);
    return std::move(*result);
  };
  const auto flagged = [](const run::JobResult& r) {
    return std::any_of(r.findings.begin(), r.findings.end(),
                       [](const Finding& f) { return f.kind == FindingKind::over_bend; });
  };
  const auto bend_per_newton = [](const run::JobResult& r) {
    float bend = 0, force = 0;
    for (const run::MotionPeak& p : r.setups[0].peaks) {
      bend = std::max(bend, p.bend_mm);
      force = std::max(force, p.force_n);
    }
    return static_cast<double>(bend) / force;
  };
  const run::JobResult thin = face(6.35), thick = face(9.525);
  EXPECT_TRUE(flagged(thin));
  for (const Finding& f : thick.findings) EXPECT_NE(f.kind, FindingKind::over_bend) << f.text;
  EXPECT_NEAR(bend_per_newton(thin) / bend_per_newton(thick), 5.0625, 0.05);
}

// A drill's two lips balance each other, however long and thin it is.
TEST(OverBend, SilentOnADrill) {
  Small s;
  s.shape = "drill";
  s.tool = "diameter = 3\ntip_angle = 118\nflute_length = 60\nstickout = 70\n";
  s.program = "G21 G90\nT1 M6\nS6000 M3\nG0 X0 Y0 Z5\nG83 Z-15 R2 Q3 F200\nG80\nG0 Z5\nM30\n";
  const Ran ran = run_small(s);
  EXPECT_FALSE(ran.has(FindingKind::over_bend)) << ran.words();
  EXPECT_GT(ran.result->setups[0].tools[0].peak.worst.force_n, 0);
}

TEST(OverBend, SilentOnAShallowSlot) {
  Small s;
  s.depth = 0.5;
  EXPECT_FALSE(run_small(s).has(FindingKind::over_bend));
}

}  // namespace
}  // namespace proveout::checks
