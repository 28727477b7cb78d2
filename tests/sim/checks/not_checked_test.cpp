// What a run could not look for, for want of input.
#include <gtest/gtest.h>

#include <tuple>
#include <vector>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

// What a bare job cannot be asked is listed, and no longer once it is given.
TEST(NotChecked, IsWhatWasNotGiven) {
  constexpr std::array kinds = {FindingKind::gouge,       FindingKind::excess,
                                FindingKind::over_depth,  FindingKind::over_width,
                                FindingKind::plunge,      FindingKind::holder_contact,
                                FindingKind::over_travel, FindingKind::fixture_contact,
                                FindingKind::over_power,  FindingKind::speed_clipped};
  Small s;
  const Ran bare = run_small(s);
  for (const FindingKind kind : kinds) EXPECT_TRUE(bare.unchecked(kind)) << name(kind);
  s.part = "[part]\nmesh = \"part.stl\"\n";
  s.tool += "holder = [[20, 30]]\n";
  s.limits = "axial_depth = 4, radial_width = 6";
  s.tool += "limits_in = { \"6061-T6\" = { plunge_feed = 300 } }\n";
  s.machine =
      "travel = [100, 100, 100]\nspindle = { min_rpm = 1000, max_rpm = 24000, power_w = 800 }\n";
  s.setup =
      "zero_in_machine = [50, 50, 60]\n[[setups.fixtures]]\nname = \"vice\"\n"
      "box = [[-40, -40, -40], [-30, 40, -10]]\n";
  const Ran full = run_small(s, box_stl(Vec3::Zero(), {40, 30, 17}));
  for (const FindingKind kind : kinds) EXPECT_FALSE(full.unchecked(kind)) << name(kind);
}

// Tools and setups are named where only some lack what is needed; tools that no program uses are
// not asked for, and another material's limits are no limits here.
TEST(NotChecked, NamesToolsAndSetups) {
  Small s;
  s.tool += "limits_in = { \"mdf\" = { axial_depth = 4, plunge_feed = 900 } }\n";
  const std::string next = "[[tools]]\nflutes = 2\nflute_length = 15\nstickout = 30\n";
  s.tool += next +
            "number = 2\nshape = \"flat\"\ndiameter = 8\nholder = [[20, 30]]\n"
            "centre_cutting = false\nlimits = { axial_depth = 3 }\n" +
            next + "number = 3\nshape = \"flat\"\ndiameter = 4\n" + next +
            "number = 4\nshape = \"drill\"\ndiameter = 5\n";
  s.machine = "travel = [100, 100, 100]\n";
  s.setup =
      "[[setups.fixtures]]\nname = \"vice\"\nbox = [[-40, -40, -40], [-30, 40, -10]]\n"
      "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nzero = { x = \"centre\", y = \"centre\", z = "
      "\"top\" }\nzero_in_machine = [50, 50, 60]\n";
  s.program =
      "G21 G90\nT1 M6\nS9000 M3\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nT2 M6\nG0 X9 Y-25\n"
      "G0 Z-2\nG1 Y25\nG0 Z5\nT4 M6\nG0 X-9 Y0\nG1 Z-5 F100\nG0 Z5\nM30\n";
  const Ran ran = run_small(s);
  ASSERT_TRUE(ran.result);
  using Setups = std::vector<std::string>;
  const std::vector<std::tuple<FindingKind, std::string, bool, Setups>> expected = {
      {FindingKind::over_depth,
       "no limit axial_depth for T1: full slots alone are judged, by the material's rule; no limit "
       "axial_depth for T4",
       true,
       {}},
      {FindingKind::over_width, "no limit radial_width for T1, T2", false, {"A", "B"}},
      {FindingKind::plunge,
       "no limit plunge_feed for T1: straight plunges alone are judged, by the material's rule; no "
       "limit plunge_feed for T4",
       true,
       {}},
      {FindingKind::holder_contact, "no holder is given for T1, T4", true, {}},
      {FindingKind::fixture_contact, "no fixtures are given for B", true, {"B"}},
      {FindingKind::over_travel, "zero_in_machine is not given for A", true, {"A"}}};
  for (const auto& [kind, why, in_part, setups] : expected) {
    const auto at = std::find_if(ran.result->not_checked.begin(), ran.result->not_checked.end(),
                                 [&, kind = kind](const auto& n) { return n.what == name(kind); });
    ASSERT_NE(at, ran.result->not_checked.end()) << name(kind);
    EXPECT_EQ(at->why, why);
    EXPECT_EQ(at->in_part, in_part) << why;
    EXPECT_EQ(at->setups, setups) << why;
  }
}

}  // namespace
}  // namespace proveout::checks
