// What the reader of the job and its meshes says stands among the findings too.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Small with_part_at(int x) {
  Small s;
  s.part = fmt::format("[part]\nmesh = \"part.stl\"\norigin = [{}, 0, 0]\n", x);
  return s;
}

TEST(JobRemarks, SpeakOfAPartOutsideTheBlank) {
  const Ran out = run_small(with_part_at(-1), box_stl(Vec3::Zero(), {40, 30, 17}));
  EXPECT_TRUE(out.said("part-outside-blank"));
  const Finding* f = out.first(FindingKind::job, "part-outside-blank");
  ASSERT_NE(f, nullptr) << out.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_EQ(f->file, "job.toml");
  EXPECT_TRUE(
      run_small(with_part_at(1), box_stl(Vec3::Zero(), {40, 30, 17})).has(FindingKind::job));
}

TEST(JobRemarks, SayByHowMuchAndWhere) {
  const Ran out = run_small(with_part_at(-1), box_stl(Vec3::Zero(), {40, 30, 17}));
  const Finding* f = out.first(FindingKind::job, "part-outside-blank");
  ASSERT_NE(f, nullptr) << out.words();
  EXPECT_NE(f->text.find("1.00 mm at its low x"), std::string::npos) << f->text;
  EXPECT_EQ(f->text.find("high x"), std::string::npos) << f->text;
}

// 40 mm are 1.5748 in to four decimals, 0.00008 mm less; half the last decimal is 0.00127 mm, of
// size and origin both 0.00254. Twice that is no rounding.
TEST(JobRemarks, TheRoundingOfInchesIsNoPartOutside) {
  EXPECT_FALSE(run_small(with_part_at(0), box_stl({-0.0025, 0, 0}, {40.0025, 30, 17}))
                   .has(FindingKind::job));
  const Ran out = run_small(with_part_at(0), box_stl({-0.006, 0, 0}, {40, 30, 17}));
  const Finding* f = out.first(FindingKind::job, "part-outside-blank");
  ASSERT_NE(f, nullptr) << out.words();
  EXPECT_NE(f->text.find("0.0060 mm at its low x"), std::string::npos) << f->text;
}

TEST(JobRemarks, SilentOnAPartWithin) {
  EXPECT_FALSE(
      run_small(with_part_at(0), box_stl(Vec3::Zero(), {40, 30, 17})).has(FindingKind::job));
}

}  // namespace
}  // namespace proveout::checks
