// The part is the block up to z = 17: the top stays 3 mm too high where nothing cut; a slot 2 deep
// leaves 1 mm. Supports left too large: weak_bridge_test.cpp.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small slot_over_a_part(double depth) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\ntolerance = { gouge = 0.1, excess = 0.1 }\n";
  s.depth = depth;
  s.limits = "axial_depth = 30";
  return s;
}
const std::string part_to_17 = box_stl(Vec3::Zero(), {40, 30, 17});

TEST(Excess, SpeaksWhereNothingCut) {
  const Ran deep = run_small(slot_over_a_part(3.5), part_to_17);
  const Finding* f = deep.first(FindingKind::excess, "uncut");
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_NEAR(f->value, 3, 0.03);
  EXPECT_EQ(f->line, 6u);  // passed nearest
  EXPECT_NE(f->text.find("does not cut it"), std::string::npos) << f->text;
}

TEST(Excess, SpeaksOfTheLineThatLeftIt) {
  const Ran shallow = run_small(slot_over_a_part(2), part_to_17);
  const auto& all = shallow.result->findings;
  EXPECT_TRUE(std::any_of(all.begin(), all.end(), [](const Finding& g) {
    // The worst of the line counts: the floor is 1 mm too high, the slot's walls rise to 3 mm.
    return g.kind == FindingKind::excess && g.line == 6 && g.value > 1 && g.value <= 3;
  })) << shallow.words();
}

TEST(Excess, SilentWhereTheTopIsFacedOff) {
  Small s = slot_over_a_part(3);
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-25 Y-18 Z5\nG0 Z-3\n";
  for (int y = -17, side = -25; y <= 17; y += 2, side = -side)
    s.program += fmt::format("G1 X{} Y{} F900\nX{}\n", side, y, -side);
  s.program += "G0 Z5\nM30\n";
  const Ran faced = run_small(s, part_to_17);
  EXPECT_FALSE(faced.has(FindingKind::excess)) << faced.words();
}

}  // namespace
}  // namespace proveout::checks
