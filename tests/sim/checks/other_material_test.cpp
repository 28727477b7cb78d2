// 0.15 mm a tooth and 4 mm deep is within what 6 mm may do in MDF (0.09 to 0.24, 9 mm), beyond both
// in the light alloy (0.09, 3 mm).
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small fast_slot(const char* material) {
  Small s;
  s.material = material;
  s.depth = 4;
  s.speed = 10000;
  s.feed = 3000;
  s.machine = "accel = [20000, 20000, 20000]\nmax_feed = [9000, 9000, 9000]\n";
  return s;
}

TEST(OtherMaterial, SpeaksOfAFileForAnother) {
  const Ran wrong = run_small(fast_slot("6061-T6"));
  const auto f = std::find_if(wrong.result->findings.begin(), wrong.result->findings.end(),
                              [](const Finding& g) { return g.detail == "other-material"; });
  ASSERT_NE(f, wrong.result->findings.end());
  // Every material it fits as well is named, MDF among them.
  EXPECT_NE(f->text.find("reads like a file for mdf, "), std::string::npos) << f->text;
  EXPECT_NE(f->text.find(", not 6061-T6"), std::string::npos) << f->text;
}

TEST(OtherMaterial, SilentInItsOwn) {
  const Ran right = run_small(fast_slot("mdf"));
  EXPECT_TRUE(std::none_of(right.result->findings.begin(), right.result->findings.end(),
                           [](const Finding& g) { return g.detail == "other-material"; }));
}

}  // namespace
}  // namespace proveout::checks
