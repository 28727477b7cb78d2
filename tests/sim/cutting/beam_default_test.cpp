// A tool whose flute length is not given cuts along its whole stick-out (docs/job-file.md), so it
// bends as one whose flutes are that long, and more than one with short flutes and a full shank.
#include <gtest/gtest.h>

#include "sim/cutting/beam.h"

namespace proveout::cutting {
namespace {

TEST(Beam, FlutesNotGivenRunTheWholeStickOut) {
  job::Tool tool;
  tool.diameter = 6;
  tool.stickout = 30;
  const Beam open = beam_of(tool);
  tool.flute_length = 30;
  const Beam whole = beam_of(tool);
  ASSERT_EQ(open.pieces.size(), 1u);
  ASSERT_EQ(whole.pieces.size(), 1u);
  EXPECT_EQ(open.length, 30);
  EXPECT_EQ(open.pieces[0].diameter, whole.pieces[0].diameter);
  EXPECT_LT(open.pieces[0].diameter, 6);
  tool.flute_length = 10;
  const Beam shanked = beam_of(tool);
  ASSERT_EQ(shanked.pieces.size(), 2u);
  EXPECT_EQ(shanked.pieces[1].diameter, 6);
}

}  // namespace
}  // namespace proveout::cutting
