// Macros, jumps and loops against plain programs that say the same move by move; what cannot be
// followed is refused at its place, and no loop is followed without end. Common practice, no
// source.
#include <gtest/gtest.h>

#include "reading.h"

namespace proveout::nc {
namespace {

const std::string head = "G21 G90 G17 G94 F100\nG1 X0 Y0\n";

std::vector<Vec3> ends(const Reading& r) {
  std::vector<Vec3> out;
  for (const Motion& m : r.moves()) out.push_back(m.end);
  return out;
}

void expect_same(const std::string& macro, const std::string& plain) {
  const Reading a = read(head + macro + "M30\n", reading({})),
                b = read(head + plain + "M30\n", reading({}));
  ASSERT_TRUE(a.ok) << macro << a.said();
  ASSERT_TRUE(b.ok);
  EXPECT_EQ(ends(a), ends(b)) << macro;
}

TEST(Flow, LoopsAndJumpsMeanWhatTheySpellOut) {
  const std::string five = "X1\nX2\nX3\nX4\nX5\n";
  expect_same("#1=1\nWHILE [#1 LE 5] DO1\nX#1\n#1=#1+1\nEND1\n", five);
  expect_same("#1=1\nN10 X#1\n#1=[#1+1]\nIF [#1 LT 6] GOTO 10\n", five);
  expect_same("#1=0\nN7 #1=#1+1 X[#1-1+1]\nIF [#1 GE 5] GOTO 9\nGOTO 7\nN9\n",
              "X1\nX1\nX2\nX3\nX4\n");
  expect_same("#1=3\nIF [#1 EQ 3] THEN #2=7\nIF [#1 NE 3] THEN #2=8\nX#2\n", "X7\n");
  expect_same("WHILE [1 EQ 2] DO2\nX99\nEND2\nX1\n", "X1\n");
  expect_same("GOTO [20+5]\nX99\nN25 X1\n", "X1\n");
  expect_same("N5 #1=#1*1+2*3\nX#1\n", "X6\n");
  expect_same(
      "#1=1\nWHILE [#1 LE 2] DO1\n#2=1\nWHILE [#2 LE 3] DO2\nX#1 Y#2\n#2=#2+1\nEND2\n"
      "#1=#1+1\nEND1\n",
      "X1 Y1\nX1 Y2\nX1 Y3\nX2 Y1\nX2 Y2\nX2 Y3\n");
  expect_same("#1=0\nWHILE [#1 LT 9] DO1\n#1=#1+1\nIF [#1 EQ 3] GOTO 8\nX#1\nEND1\nN8 X30\n",
              "X1\nX2\nX30\n");
  expect_same("#105=4\n#[100+1]=#[104+1]\nX#101\n", "X4\n");
  expect_same("IF [[1 GT 0] AND [2 GT 3]] GOTO 4\nX6\nN4\n", "X6\n");
  expect_same("IF [#9 EQ #0] THEN #9=2\nX#9\n#9=#0\nIF [#9 EQ #0] GOTO 3\nX99\nN3\n", "X2\n");
}

// Blocks behind the end that a call has run are not told of as unread; those no call runs are.
TEST(Flow, BlocksBehindTheEndThatAreCalledAreRead) {
  const Reading called =
      read(head + "M97 P100 L2\nM98 Q200\nM30\nN100 G91 X1\nG90\nM99\nN200 X9\nM99\n", reading({}));
  ASSERT_TRUE(called.ok) << called.said();
  EXPECT_EQ(called.of("text-behind-end"), nullptr) << called.said();
  const Reading beside =
      read(head + "M97 P100\nM30\nN100 G91 X1\nG90\nM99\nN200 X9\nM99\n", reading({}));
  ASSERT_NE(beside.of("text-behind-end"), nullptr) << beside.said();
  EXPECT_EQ(beside.of("text-behind-end")->place.line, 8u);
}

// What no line has set may hold anything on the control: a comparison that rests on it is warned
// of, as a number that does. Locals of a macro are vacant where its call says nothing; so is what
// the program empties itself.
TEST(Flow, WhatIsComparedAndNeverSetIsToldOf) {
  const auto told = [](const std::string& text) {
    const Reading r = read(head + text + "M30\n", reading({}));
    EXPECT_TRUE(r.ok) << text << r.said();
    const Diagnostic* const d = r.of("parameter-unset");
    return d == nullptr ? 0u : d->place.column;
  };
  EXPECT_EQ(told("IF [#100 EQ 1] GOTO 9\nX5\nN9\n"), 5u);
  EXPECT_EQ(told("IF [1 NE #7] THEN X5\n"), 10u);
  EXPECT_EQ(told("IF [#500 EQ #0] THEN #500=3\n"), 5u);
  EXPECT_EQ(told("IF [#7 EQ #0] THEN #7=3\n"), 0u);
  EXPECT_EQ(told("#100=#0\nIF [#100 EQ #0] THEN #100=3\nX#100\n"), 0u);
  EXPECT_EQ(told("#100=1\nIF [#100 EQ 1] GOTO 9\nX5\nN9\n"), 0u);
  EXPECT_EQ(told("G65 P1 A3\nM30\nO1\nIF [#2 EQ 1] GOTO 9\nX#1\nN9\nM99\n"), 0u);
  EXPECT_EQ(told("G65 P1 A3\nM30\nO1\nIF [#101 EQ #1] GOTO 9\nX#1\nN9\nM99\n"), 5u);
  const Reading of_control = read(head + "IF [#3003 EQ 1] GOTO 9\nX5\nN9\nM30\n", reading({}));
  EXPECT_NE(of_control.of("control-value"), nullptr) << of_control.said();
  EXPECT_FALSE(of_control.ok);
}

TEST(Flow, SubprogramsAndMacros) {
  const std::string end = "M30\n";
  const auto same = [&](const std::string& main, const std::string& subs,
                        const std::string& plain) {
    const Reading a = read(head + main + end + subs, reading({}));
    ASSERT_TRUE(a.ok) << main << a.said();
    EXPECT_EQ(ends(a), ends(read(head + plain + end, reading({})))) << main;
  };
  same("M98 P1 L2\n", "O1\nG91 X1\nG90\nM99\n", "X1\nX2\n");
  same("G65 P1 X4 Y5 L1\nX9\n", "O1\nG1 X#24 Y#25\nM99\n", "X4 Y5\nX9\n");
  same("#1=8\nG65 P1 A3\nX#1\n", "O1\nX#1\n#1=77\nM99\n", "X3\nX8\n");
  same("G65 P1 A2 L3\n", "O1\nX#1\n#1=#1+1\nX#1\nM99\n", "X2\nX3\nX2\nX3\nX2\nX3\n");
  same("G65 P1 A2\n", "O1\nG65 P2 A[#1+1]\nX#1\nM99\nO2\nX#1\nM99\n", "X3\nX2\n");
  same("M97 P100 L2\nGOTO 200\nN100 G91 X1\nG90\nM99\nN200 X30\n", "", "X1\nX2\nX30\n");
  same("M98 Q100\nGOTO 200\nN100 X7\nM99\nN200 X30\n", "", "X7\nX30\n");
  same("M98 P1 Q20\n", "O1\nX99\nN20 X5\nM99\n", "X5\n");
  same("M98 P1\nX99\nN50 X6\n", "O1\nX3\nM99 P50\n", "X3\nX6\n");
  same("#1=0\nN1 #1=#1+1\nX#1\nIF [#1 GE 2] GOTO 9\nM99 P1\nN9\n", "", "X1\nX2\n");
  // N numbers are a subprogram's own.
  same("#3=1\nM98 P1\nGOTO 10\nX99\nN10 X8\n", "O1\nGOTO 10\nX99\nN10 X5\nM99\n", "X5\nX8\n");
}

TEST(Flow, WhatCannotBeFollowedIsRefusedAtItsLine) {
  struct Row {
    const char *text, *code;
    std::uint32_t line;
  };
  for (const Row& row : {
           Row{"GOTO 9\n", "flow", 3},
           Row{"N9 X1\nN9 X2\nGOTO 9\n", "flow", 5},
           Row{"WHILE [1 EQ 1] DO1\nX1\n", "flow", 3},
           Row{"END1\n", "flow", 3},
           Row{"IF 1 GOTO 2\n", "flow", 3},
           Row{"IF [1 EQ 1] X5\n", "flow", 3},
           Row{"WHILE [1 EQ 1]\n", "flow", 3},
           Row{"WHILE [1 EQ 1] DO1\nWHILE [1 EQ 1] DO1\nEND1\nEND1\n", "flow", 4},
           Row{"IF [1 EQ 1 AND 2 EQ 2] GOTO 9\n", "expression", 3},
           Row{"IF [1 EQ] GOTO 9\n", "expression", 3},
           Row{"G65 P77 A1\n", "subprogram-missing", 3},
           Row{"G65 A1\n", "macro-call", 3},
           Row{"G65 P77 G1 A1\n", "macro-call", 3},
           Row{"G66 P77 A1\n", "g-code-unknown", 3},
           Row{"X#<name>\n", "expression", 3},
           Row{"#0=3\n", "parameter-index", 3},
           Row{"X#0\n", "parameter-index", 3},
           Row{"X#5041\n", "control-value", 3},
           Row{"REPEAT 5\n", "flow-word", 3},
       }) {
    const Reading r = read(head + row.text + "M30\n", reading({}));
    EXPECT_FALSE(r.ok) << row.text;
    const Diagnostic* d = r.of(row.code);
    ASSERT_NE(d, nullptr) << row.text << r.said();
    EXPECT_EQ(d->place.line, row.line) << row.text << r.said();
  }
  const Reading vacant = read(head + "G65 P1 A1\nM30\nO1\nX#2\nM99\n", reading({}));
  EXPECT_FALSE(vacant.ok);
  EXPECT_NE(vacant.of("parameter-vacant"), nullptr) << vacant.said();
}

TEST(Flow, NoLoopIsFollowedWithoutEnd) {
  ReadOptions options = reading({});
  options.most_repeated = 5000;
  for (const char* text :
       {"N1 X1\nGOTO 1\n", "WHILE [1 EQ 1] DO1\nX1\nX2\nEND1\n", "N1 M99 P1\n", "DO1\nEND1\n"}) {
    const Reading r = read(head + text + "M30\n", options);
    EXPECT_FALSE(r.ok) << text;
    EXPECT_EQ(r.diagnostics.errors(), 1u) << r.said();
    EXPECT_NE(r.of("too-many-repeats"), nullptr) << text << r.said();
  }
}

// Where controls work an expression out differently it is said.
TEST(Flow, ExpressionsThatDiffer) {
  for (const char* differs :
       {"X[FIX[-2.8]]\n", "X[FUP[-2.8]]\n", "X[6 AND 3]\n", "X[[-7] MOD 3]\n"})
    EXPECT_NE(read(head + differs + "M30\n", reading({})).of("expression-dialect"), nullptr)
        << differs;
  for (const char* same : {"X[FIX[2.8]]\n", "X[FIX[-2]]\n", "X[1 AND 0]\n", "X[7 MOD 3]\n"})
    EXPECT_EQ(read(head + same + "M30\n", reading({})).of("expression-dialect"), nullptr) << same;
}

// An array worked by formula: sums of random terms without brackets, against the same in C++.
TEST(Flow, SettingsWithoutBrackets) {
  for (int a = -3; a <= 3; ++a) {
    for (int b = 1; b <= 3; ++b) {
      const Reading r = read(
          head + fmt::format("#1={}\n#2={}\n#3=#1+#2*2-#1/#2\nX[#3+50]\nM30\n", a, b), reading({}));
      ASSERT_TRUE(r.ok) << r.said();
      EXPECT_NEAR(r.moves().back().end.x(), 50 + a + b * 2.0 - static_cast<double>(a) / b, 1e-12);
    }
  }
}

}  // namespace
}  // namespace proveout::nc
