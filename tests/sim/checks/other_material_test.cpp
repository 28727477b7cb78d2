// 0.15 mm a tooth and 4 mm deep is within what 6 mm may do in MDF (0.09 to 0.24, 9 mm), beyond both
// in the light alloy (0.09, 3 mm).
#include <gtest/gtest.h>

#include <tuple>

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

// A beginner's feeds, slow for what is cut, are no other material's: aluminium at F500, board at
// F3000, with two flutes and three.
TEST(OtherMaterial, SilentAtASlowFeed) {
  for (const auto& [material, feed, depth] : {std::tuple{"6061-T6", 500.0, 1.0},
                                              {"6061-T6", 300.0, 2.0},
                                              {"mdf", 3000.0, 4.0},
                                              {"mdf", 1500.0, 2.0}}) {
    for (const int flutes : {2, 3}) {
      Small s = fast_slot(material);
      s.depth = depth;
      s.feed = feed;
      s.speed = 18000;
      s.flutes = flutes;
      const Ran ran = run_small(s);
      EXPECT_TRUE(std::none_of(ran.result->findings.begin(), ran.result->findings.end(),
                               [](const Finding& g) { return g.detail == "other-material"; }))
          << material << " F" << feed << ", " << flutes << " flutes: " << ran.words();
    }
  }
}

}  // namespace
}  // namespace proveout::checks
