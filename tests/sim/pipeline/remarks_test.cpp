// Where a note of the reader ends up: what asks for no act is no finding, what was taken for
// granted stands among the assumptions.
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/sim/pipeline/work_folder.h"

namespace proveout::pipeline {
namespace {

run::JobResult run_with(const std::string& head, const std::string& tail) {
  const WorkFolder work;
  work.file("a.nc", head +
                        "G21 G90\nT1 M6\nS18000 M3\nG0 X-10 Y5 Z5\nG0 Z-1\nG1 X30 F600\nG0 Z5\n" +
                        tail + "M30\n");
  return work.run(
      "[simulation]\nvoxel = 0.5\n[stock]\nsize = [20, 10, 6]\n[[tools]]\nnumber = 1\nshape = "
      "\"flat\"\ndiameter = 4\nflute_length = 12\nstickout = 15\n[[setups]]\nname = "
      "\"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"min\", z = \"top\" }\n");
}

bool any_finding(const run::JobResult& r, const std::string& part) {
  return std::any_of(r.findings.begin(), r.findings.end(),
                     [&](const Finding& f) { return f.text.find(part) != std::string::npos; });
}

bool assumes(const run::JobResult& r, const std::string& part) {
  return std::any_of(r.assumed.begin(), r.assumed.end(),
                     [&](const std::string& text) { return text.find(part) != std::string::npos; });
}

TEST(Remarks, AProgramNumberIsNoFinding) {
  EXPECT_FALSE(any_finding(run_with("O77\n", ""), "program number"));
}

TEST(Remarks, AHomeThatIsNotKnownIsAssumed) {
  const run::JobResult r = run_with("", "G28 Z5\n");
  EXPECT_TRUE(assumes(r, "a.nc, line 8: home is taken to be where the program started"));
  EXPECT_FALSE(any_finding(r, "home is taken"));
  EXPECT_FALSE(assumes(run_with("", ""), "home is taken"));
}

// The program of these tests has no point on any length.
TEST(Remarks, AChoiceOfTheControlsReadingIsAssumed) {
  const run::JobResult r = run_with("", "G4 P2\n");
  EXPECT_TRUE(assumes(r, "a.nc, line 8: P2 is taken as 2 s (machine.reads.wait_p = \"seconds\")"));
  EXPECT_TRUE(assumes(r,
                      "a.nc, line 4: X-10, without a point, is taken as -10 mm "
                      "(machine.reads.lengths_without_point = \"whole-units\")"));
  EXPECT_FALSE(any_finding(r, "machine.reads"));
}

TEST(Remarks, AnotherNoteStaysAFinding) {
  EXPECT_TRUE(any_finding(run_with("", "G5.1 Q1\n"), "G5.1"));
}

}  // namespace
}  // namespace proveout::pipeline
