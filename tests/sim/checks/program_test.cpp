// What the reader of programs says stands among the findings too, by setup.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(ProgramRemarks, SpeakOfWhatTheReaderWarnsOf) {
  Small s;  // M30 missing
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\n";
  const Ran open = run_small(s);
  const Finding* f = open.first(FindingKind::program);
  ASSERT_NE(f, nullptr) << open.words();
  EXPECT_EQ(f->setup, "A");
  EXPECT_EQ(f->file, "a.nc");
  EXPECT_FALSE(f->detail.empty());
}

TEST(ProgramRemarks, SilentOnAPlainProgram) {
  EXPECT_FALSE(run_small(Small()).has(FindingKind::program));
}

}  // namespace
}  // namespace proveout::checks
