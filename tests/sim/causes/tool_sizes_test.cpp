// Sizes in comments. Wordings: common practice of posts, no source.
#include "sim/causes/tool_sizes.h"

#include <gtest/gtest.h>

namespace proveout::causes {
namespace {

std::vector<job::Tool> tools() {
  job::Tool six, quarter;
  six.number = 1;
  six.diameter = 6;
  quarter.number = 2;
  quarter.diameter = 6.35;
  return {six, quarter};
}

TEST(ToolSizes, AContradictionIsSeen) {
  for (const char* text : {"(T1 D8 FLAT MILL)\nT1 M6\n", "(8 MM BALL)\nT1 M6\n", "T1 M6 (DIA 8.)\n",
                           "; tool dia. = 8.0\nN10 T01 M06\n", "(T2 1/8 END MILL)\n",
                           "(5/16\" DRILL)\nT1 M6\n", "(T1 8 MM)\nT1 M6\n",
                           "(T1: 6.2 MM )\nT1 M6\n", "(T1 3.3 DRILL)\n", "(T2 .125 ENDMILL)\n"}) {
    const auto found = contradictions(tools_in_comments(text), tools());
    EXPECT_EQ(found.size(), 1u) << text;
  }
}

TEST(ToolSizes, WhatFitsOrIsNoSizeIsNot) {
  for (const char* text : {"(T1 D6 FLAT MILL)\nT1 M6\n",
                           "(6 MM BALL, 50 MM LONG)\nT1 M6\n",
                           "(T2 1/4 END MILL)\n",
                           "(T2 D0.25 FLAT)\n",
                           "(T1 6MM X 22 MM FLAT MILL)\n",
                           "(STOCK 160 X 60 X 32 MM)\nT1 M6\n",
                           "(USE D1)\nT1 M6\n",
                           "(FEED 800 MM/MIN)\nT1 M6\n",
                           "(T7 D20 FACE MILL)\n",
                           "(POCKET 8 MM DEEP)\nT1 M6\n",
                           "T1 M6\nG41 D8\n",
                           "(T1)\n",
                           "",
                           "(T1 6 MM)\n",
                           "(T1 50 MM LONG)\nT1 M6\n",
                           "(T1 UP 5 MM)\nT1 M6\n",
                           "(T1 #7 DRILL)\n",
                           "(T1 6.0 DRILL)\n",
                           "(T2 .25 ENDMILL)\n",
                           "(NO. 7 DRILL)\nT1 M6\n"}) {
    const auto found = contradictions(tools_in_comments(text), tools());
    EXPECT_TRUE(found.empty()) << text;
  }
}

TEST(ToolSizes, NamesTheLineAndTheFirstOfATool) {
  const auto found = contradictions(
      tools_in_comments("%\nO1\n(T1 D8 FLAT)\nT1 M6\nG0 X0\n(T1 D8 FLAT AGAIN)\n"), tools());
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].line, 3u);
  EXPECT_EQ(found[0].number, 1);
}

// A slot drill is an end mill: its name is no word against a flat or a ball, and a drill's is.
TEST(ToolSizes, ASlotDrillIsNoDrill) {
  auto declared = tools();
  const auto doubted = [&](const char* text) {
    return other_shapes(tools_in_comments(text), declared).size();
  };
  for (const char* text : {"T1 M6 (SLOT DRILL 6MM Z3)\n", "(slotdrill d6.0)\nT1 M6\n",
                           "T1 M6 (6MM SLOT-DRILL)\n", "(6 MM DRILL MILL)\nT1 M6\n"})
    EXPECT_EQ(doubted(text), 0u) << text;
  for (const char* text : {"T1 M6 (6MM DRILL)\n", "(D6.0 TWIST DRILL)\nT1 M6\n",
                           "T1 M6 (6MM BALL NOSED SLOT DRILL)\n"})
    EXPECT_EQ(doubted(text), 1u) << text;
  declared[0].shape = job::ToolShape::ball;
  EXPECT_EQ(doubted("T1 M6 (6MM BALL NOSED SLOT DRILL)\n"), 0u);
}

}  // namespace
}  // namespace proveout::causes
