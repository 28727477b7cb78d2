// All mistakes of a program at once, those of its path too, none that only follow from another; and
// words from elsewhere named for what they are. Common practice, no source.
#include <gtest/gtest.h>

#include "reading.h"

namespace proveout::nc {
namespace {

std::vector<std::pair<std::string, std::uint32_t>> errors(const Reading& r) {
  std::vector<std::pair<std::string, std::uint32_t>> out;
  for (const Diagnostic& d : r.diagnostics.all()) {
    if (d.severity == Severity::error) out.emplace_back(d.code, d.place.line);
  }
  return out;
}

using Errors = std::vector<std::pair<std::string, std::uint32_t>>;

TEST(Mistakes, AllAtOnceAndNoneThatFollow) {
  EXPECT_EQ(errors(read("G21 G90\n"        // 1
                        "G1 X5\n"          // 2: no feed
                        "X6\n"             // 3: follows from it
                        "G2 X9 Y0 I9\n"    // 4: radii differ
                        "G1 X0 Y0 F100\n"  // 5
                        "G2 X5 Y0 R1\n"    // 6: does not reach
                        "G77\n"            // 7
                        "G83 X1 Z-1 R1\n"  // 8: no Q
                        "X2\n"             // 9: follows from it
                        "G80\n"            // 10
                        "G1 X5 A90\n"      // 11
                        "M98 P5\n"         // 12
                        "M30\n",
                        reading({}))),
            (Errors{{"feed-missing", 2},
                    {"arc-radius-mismatch", 4},
                    {"arc-radius-short", 6},
                    {"g-code-unknown", 7},
                    {"cycle-word", 8},
                    {"rotary-axis", 11},
                    {"subprogram-missing", 12}}));
  // A number that cannot be read leaves the place in doubt until it is given again.
  EXPECT_EQ(errors(read(
                "G21 G90 F100\nG1 X0 Y0\nG1 X[1/0]\nG2 X5 Y0 I2.5\nG1 X0 Y0 Z0\nG2 X5 Y0 I9\nM30\n",
                reading({}))),
            (Errors{{"expression", 3}, {"arc-radius-mismatch", 6}}));
  // Units, feed, speed and tool of a line that could not be read are not missed behind it.
  const Reading said =
      read("G21 G95 F.1 S900 M3 T1 M6 X1 Y\nG1 X3\nG41 D1 X9\nX12\nM30\n", reading({}));
  EXPECT_EQ(errors(said), (Errors{{"number-missing", 1}})) << said.said();
  EXPECT_EQ(said.diagnostics.all().size(), 1u) << said.said();
  for (const char* setting : {"#1=[2", "#1=2 3X", "#1=1/0"}) {
    const Reading unset =
        read(std::string("G21 F100\n") + setting + "\nG1 X#1 Y5\nIF [#1 EQ 2] GOTO 9\nN9\nM30\n",
             reading({}));
    EXPECT_EQ(unset.of("parameter-unset"), nullptr) << unset.said();
    EXPECT_EQ(unset.diagnostics.errors(), 1u) << unset.said();
  }
  // What runs again is told of once.
  EXPECT_EQ(errors(read("G21 F9\nM98 P1 L5\nM30\nO1\nG1 X1\nG33\nM99\n", reading({}))),
            (Errors{{"g-code-unknown", 6}}));
}

TEST(Mistakes, AsManyAsTheSetNumberAreKept) {
  std::string text = "G21 G90 F100\n";
  for (int k = 0; k < 30; ++k) text += "G1 X0 Y0\nG2 X5 Y0 I9\n";
  Heard heard;
  Diagnostics few(10);
  EXPECT_FALSE(interpret(text + "M30\n", "t.nc", {}, heard, few));
  EXPECT_EQ(few.errors(), 30u);
  EXPECT_EQ(few.all().size(), 10u);
}

// A limit keeps the gravest: an error is not dropped behind what is only noted, nor a warning.
TEST(Mistakes, ALimitKeepsTheGravest) {
  std::string text = "G21 G90 F100 ; remark\n/1 G1 X0 Y0\n";
  for (int k = 0; k < 30; ++k) text += "G1 X0 Y0 H2\n";
  text += "G1 X0 Y0 E1\nM30\n";
  const auto kept = [&](std::size_t most) {
    Heard heard;
    Diagnostics diagnostics(most);
    ReadOptions options;
    options.every_place = true;
    EXPECT_FALSE(interpret(text, "t.nc", options, heard, diagnostics));
    EXPECT_EQ(diagnostics.errors(), 1u);
    EXPECT_EQ(diagnostics.all().size() + diagnostics.dropped(), 33u);
    EXPECT_EQ(diagnostics.all().size(), std::min<std::size_t>(most, 33));
    std::string out;
    for (const Diagnostic& d : diagnostics.all()) out += d.code + ' ';
    return out;
  };
  EXPECT_EQ(kept(0), "");
  EXPECT_EQ(kept(1), "letter-not-allowed ");
  EXPECT_EQ(kept(2), "word-idle letter-not-allowed ");
  EXPECT_EQ(kept(40).substr(0, 54), "semicolon-comment block-delete-switch word-idle word-i");
}

// What is told at its first line alone is counted on the others, at the last of them.
TEST(Mistakes, FurtherLinesAreCounted) {
  const Reading r = read(
      "G21 G90 F100 ; a\nG1 X0 Y0 ; b\nG1 X1 H2\nG1 X2 H2\nG1 X3 D1 L2\nG1 X4 H3\nM98 P1 "
      "L3\nM30\nO1\n"
      "G1 Y1 Q1\nM99\n",
      reading({}));
  ASSERT_TRUE(r.ok) << r.said();
  std::vector<std::pair<std::uint32_t, std::string>> further;
  for (const Diagnostic& d : r.diagnostics.all()) {
    if (d.code == "further-lines") further.emplace_back(d.place.line, d.what);
  }
  // H on lines 3, 4 and 6; L and Q on one line each, however often it runs; remarks are no matter.
  ASSERT_EQ(further.size(), 1u) << r.said();
  EXPECT_EQ(further[0].first, 6u);
  EXPECT_NE(further[0].second.find("line 3"), std::string::npos);
  EXPECT_NE(further[0].second.find("word-idle"), std::string::npos);
  EXPECT_NE(further[0].second.find("2 further lines"), std::string::npos) << further[0].second;
}

TEST(Mistakes, WordsFromElsewhereAreNamed) {
  struct Row {
    const char *text, *code, *part;
  };
  for (const Row& row : {
           Row{"G2 X5 Y0 CR=5", "other-dialect", "radius"},
           Row{"G1 X=AC(5)", "other-dialect", ""},
           Row{"G1 XAC(5)", "number-missing", ""},
           Row{"T=\"MILL\"", "other-dialect", "text"},
           Row{"DPRNT[X#1]", "other-dialect", "prints"},
           Row{"POPEN", "other-dialect", "prints"},
           Row{"DEF REAL A", "other-dialect", "variables"},
           Row{"VC1=5", "other-dialect", ""},
           Row{"R1=5", "other-dialect", "variable"},
           Row{"Q1 = +5", "other-dialect", "variable"},
           Row{"G1 XR1", "number-missing", "variable"},
           Row{"G1 X+Q1", "expression", "variable"},
           Row{"G1 X#1+2", "character-not-allowed", "X[#1+2]"},
           Row{"G1 X5-2", "character-not-allowed", "[ ]"},
           Row{"G1 X#1/2", "character-not-allowed", "[ ]"},
           Row{"#1=5 G1 X#1*2", "character-not-allowed", "[ ]"},
           Row{"G1 X[1+2]*13", "character-not-allowed", "sum"},
           Row{"CALL OSUB", "flow-word", "not followed"},
           Row{"ENDIF", "flow-word", ""},
           Row{"G1 X5 E0.1", "letter-not-allowed", "milling"},
           Row{"G83 X1 Z-1 R1", "cycle-word", "post Q"},
           Row{"G1 X[1+2", "expression", "bracket"},
           Row{"// G1 X5", "two-slashes", ""},
           Row{"$2", "other-dialect", "channel"},
           Row{"G1 X5 ,R", "expression", "number"},
       }) {
    const Reading r = read("G21 G90 F100\n" + std::string(row.text) + "\nM30\n", reading({}));
    EXPECT_FALSE(r.ok) << row.text;
    const Diagnostic* d = r.of(row.code);
    ASSERT_NE(d, nullptr) << row.text << r.said();
    EXPECT_EQ(d->place.line, 2u) << row.text;
    EXPECT_NE((d->what + d->remedy).find(row.part), std::string::npos) << row.text << d->what;
  }
}

// What programs carry around their words: each is read past, and said.
TEST(Mistakes, WhatStandsAroundWordsIsReadPast) {
  struct Row {
    std::string text;
    const char* code;  // of the note; empty: none
  };
  const std::string cut = "G21 G90 F100\nG1 X5\nM30\n";
  for (const Row& row : {
           Row{"(a part)\n%\nO1\n" + cut + "%\n", ""},
           Row{"O1000\n%\n" + cut + "%\n", "program-number"},
           Row{"%\n%\n" + cut + "%\n", ""},
           Row{"%\nO1\n%\n" + cut + "%\n", ""},
           Row{"/1 G0 Z5\n" + cut, "block-delete-switch"},
           Row{"$1\n" + cut, "channel"},
           Row{"// made by hand\n" + cut, "semicolon-comment"},
           Row{"G21 G90 F100 *71\nG1 X5*13\nM30\n", "check-sum"},
           Row{cut + std::string(300, '\0'), ""},
           Row{"G103 P1\nG187 P1\nG62\n" + cut, "look-ahead-word"},
       }) {
    const Reading r = read(row.text, reading({}));
    EXPECT_TRUE(r.ok) << row.text << r.said();
    EXPECT_EQ(r.moves().size() >= 1, true) << row.text;
    EXPECT_EQ(r.moves().back().end.x(), 5) << row.text;
    if (*row.code != '\0') {
      EXPECT_NE(r.of(row.code), nullptr) << row.text << r.said();
    }
  }
  EXPECT_NE(read("%G0 X7\n" + cut, reading({})).of("percent-text"), nullptr);
  EXPECT_EQ(read("%1234\n" + cut, reading({})).of("percent-text"), nullptr);
  // A product is none of the sums.
  EXPECT_EQ(read("G21 G90 F100\n#1=2*3\nG1 X#1\nM30\n", reading({})).moves().back().end.x(), 6);
}

}  // namespace
}  // namespace proveout::nc
