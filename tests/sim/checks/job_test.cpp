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

TEST(JobRemarks, SilentOnAPartWithin) {
  EXPECT_FALSE(
      run_small(with_part_at(0), box_stl(Vec3::Zero(), {40, 30, 17})).has(FindingKind::job));
}

}  // namespace
}  // namespace proveout::checks
