// Sides that do not meet as declared; how that is told, in figures: tests/sim/flip.
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/sim/flip/two_sides.h"

namespace proveout::checks {
namespace {

std::ptrdiff_t told(const run::JobResult& result) {
  return std::count_if(result.findings.begin(), result.findings.end(), [](const Finding& f) {
    return f.kind == FindingKind::flip_mismatch && f.level != Severity::note;
  });
}

TEST(FlipMismatch, SpeaksOfAPartTurnedAboutTheOtherAxis) {
  two_sides::Sides wrong;
  wrong.turn = "{ about = \"x\", degrees = 180 }";
  EXPECT_GT(told(two_sides::run(wrong)), 0);
}

TEST(FlipMismatch, SilentWhereTheSidesMeet) { EXPECT_EQ(told(two_sides::run({})), 0); }

}  // namespace
}  // namespace proveout::checks
