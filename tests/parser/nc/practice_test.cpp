// Words beyond the everyday ones: what they mean, by the arithmetic their definition gives, and
// what each says where it cannot be followed.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>

#include "parser/nc/difference.h"
#include "parser/nc/modal_groups.h"
#include "parser/nc/plain.h"
#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

struct Keep : Sink {
  std::vector<Motion> motions;
  std::vector<Event> events;
  void motion(const Motion& m, const ModalState&) override {
    if (length(m) > 0) motions.push_back(m);
  }
  void event(const Event& e, const ModalState&) override { events.push_back(e); }
};

struct Read {
  bool ok = false;
  Keep kept;
  Diagnostics diagnostics;
  const Diagnostic* of(std::string_view code) const {
    for (const auto& d : diagnostics.all()) {
      if (d.code == code) return &d;
    }
    return nullptr;
  }
};

Read read(const std::string& text, Profile profile = Profile::shop,
          std::optional<Vec3> zero_in_machine = std::nullopt) {
  Read out;
  ReadOptions options;
  options.profile = profile;
  options.tool_diameters = {{1, 6}, {2, 8}};
  options.zero_in_machine = zero_in_machine;
  out.ok = interpret(text, "test.nc", options, out.kept, out.diagnostics);
  return out;
}

const std::string head = "G21 G90 G17 F100\n";

struct Row {
  const char *text, *code;
  std::uint32_t line, column;
};

// A parameter keeps what an earlier program left in it: what the program itself has not set is a
// guess. Those from #5061 on are the control's own (NISTIR 6556 table 2).
TEST(Practice, AParameterNothingHasSetIsWarnedOf) {
  const Read r = read(head + "G1 X#200\nY#201\n");
  EXPECT_TRUE(r.ok);
  const Diagnostic* d = r.of("parameter-unset");
  ASSERT_NE(d, nullptr);
  EXPECT_EQ(d->severity, Severity::warning);
  EXPECT_EQ(d->place.line, 2u);
  EXPECT_EQ(d->place.column, 5u);
  EXPECT_EQ(d->place.length, 4u);
  EXPECT_NE(d->what.find("#200 is read"), std::string::npos) << d->what;
  EXPECT_EQ(std::count_if(r.diagnostics.all().begin(), r.diagnostics.all().end(),
                          [](const Diagnostic& x) { return x.code == "parameter-unset"; }),
            1);  // once a program
  EXPECT_NE(read(head + "#1=2\nG1 X##1\n").of("parameter-unset"), nullptr);
  EXPECT_NE(read(head + "#1=[#1+1]\nG1 X#1\n").of("parameter-unset"), nullptr);
  for (const char* set : {"#200=0\nG1 X#200\n", "#1=200\n#200=7\nG1 X##1\n"})
    EXPECT_EQ(read(head + set).of("parameter-unset"), nullptr) << set;
}

// Length over feed: 10 mm at 1e-6 mm/min are 1e7 minutes, 19 years. The second move goes the quick
// way where it may.
TEST(Practice, AFeedThatCrawlsIsWarnedOf) {
  const auto crawls = [](const std::string& text) {
    const Read r = read(head + "G1 X1\n" + text);
    EXPECT_TRUE(r.ok) << text;
    const Diagnostic* d = r.of("feed-crawls");
    if (d == nullptr) return std::string();
    EXPECT_EQ(d->severity, Severity::warning);
    return d->what;
  };
  EXPECT_EQ(crawls("X11 F0.000001\n"), "at 1e-06 mm/min a move of 10 mm takes 19 years");
  EXPECT_EQ(crawls("X11 F0.1\n"), "at 0.1 mm/min a move of 10 mm takes 1.7 hours");
  EXPECT_EQ(crawls("X5 F0.1\n"), "");    // 40 minutes
  EXPECT_EQ(crawls("X1001 F12\n"), "");  // 83 minutes, but no crawl
  EXPECT_EQ(crawls("X11 F1\nX1 F9\n"), "");
  EXPECT_EQ(crawls("G20\nX10 F0.01\n"), "at 0.254 mm/min a move of 253 mm takes 16.6 hours");
  EXPECT_EQ(crawls("G93 X11 F0.001\n"), "at 0.01 mm/min a move of 10 mm takes 16.7 hours");
  EXPECT_EQ(crawls("S1000 M3\nG95 X11 F0.1\n"), "");
  EXPECT_EQ(crawls("G2 X11 I5 F0.01\n"), "at 0.01 mm/min a move of 15.7 mm takes 26.2 hours");
}

// Two subprograms of one number: which one runs is said, at the second's line.
TEST(Practice, AnONumberTwiceIsWarnedOf) {
  const Read r = read(head + "M98 P1\nM30\nO1\nG1 X1\nM99\nO1\nG1 X2\nM99\n");
  EXPECT_TRUE(r.ok);
  const Diagnostic* d = r.of("subprogram-twice");
  ASSERT_NE(d, nullptr);
  EXPECT_EQ(d->severity, Severity::warning);
  EXPECT_EQ(d->place.line, 7u);
  EXPECT_NE(d->what.find("on line 4"), std::string::npos) << d->what;
  ASSERT_EQ(r.kept.motions.size(), 1u);
  EXPECT_EQ(r.kept.motions[0].end.x(), 1);
  EXPECT_EQ(read(head + "M98 P1\nM30\nO1\nG1 X1\nM99\nO2\nM99\n").of("subprogram-twice"), nullptr);
}

// What stands behind the end and was perhaps meant to run. Subprograms, comments and the closing %
// are at home there.
TEST(Practice, BlocksBehindTheEndAreSaid) {
  for (const auto& [text, line] : {std::pair{"G1 X1\nM30\nG1 X2\n", 4u},
                                   {"G1 X1\r\nM2\r\n\r\n(more)\r\n N10 G1 X2\r\n", 6u},
                                   {"G1 X1\n%\nG1 X2\n%\n", 4u},
                                   {"G1 X1\nM30\n%\n\nG1 X2", 6u}}) {
    const Read r = read(head + text);
    EXPECT_TRUE(r.ok) << text;
    const Diagnostic* d = r.of("text-behind-end");
    ASSERT_NE(d, nullptr) << text;
    EXPECT_EQ(d->severity, Severity::warning);
    EXPECT_EQ(d->place.line, line) << text;
    EXPECT_EQ(r.kept.motions.size(), 1u);
  }
  for (const char* text :
       {"G1 X1\nM30\n", "G1 X1\nM30", "G1 X1\nM30\n%\n",
        "G1 X1\nM30\n \n(end of it)\n; so\n%\n\x1A", "M98 P1\nM30\nO1\nG1 X1\nM99\n%\n",
        "G1 X1\nM30\nN9999\n/M99\nN10 M2\n", "G1 X1\nM30\n\nO7 (not called)\nG1 X2\nM99\n"}) {
    EXPECT_EQ(read(head + text).of("text-behind-end"), nullptr) << text;
  }
}

// Two programs in one file: the second is not read, which is said at its O number. What ends with
// M99, or is never ended, is a subprogram.
TEST(Practice, AnotherProgramBehindTheEndIsSaid) {
  for (const auto& [text, line] :
       {std::pair{"G1 X1\nM30\n%\n%\nO2 (SIDE B)\nG1 X2\nM30\n%\n", 6u},
        {"G1 X1\nM98 P1\nM30\nO1\nG1 X2\nM99\n(next)\r\n:3\r\nG1 X3\r\nN9 G0 Z9 m02\r\n", 9u},
        {"G1 X1\nM2\n o2\nG1 X2 (M99) M 30 ; M99", 4u}}) {
    const Read r = read(head + text);
    EXPECT_TRUE(r.ok) << text;
    const Diagnostic* d = r.of("text-behind-end");
    ASSERT_NE(d, nullptr) << text;
    EXPECT_EQ(d->severity, Severity::warning);
    EXPECT_EQ(d->place.line, line) << text;
    EXPECT_NE(d->what.find("another program"), std::string::npos) << d->what;
  }
  for (const char* text :
       {"G1 X1\nM30\nO2\nG1 X2 (M30)\nM99\n%\n", "G1 X1\nM30\nO2\nG1 X2 ; M2\nM99\nM30\n",
        "G1 X1\nM30\nO2\nG1 X2\nM3 S300\nM20\n", "G1 X1\nM30\nO2\nM99 P30\nO3\nM09\nM99",
        "G1 X1\nM30\nO2\n/M30\nG1 X2\nM99\n"}) {
    EXPECT_EQ(read(head + text).of("text-behind-end"), nullptr) << text;
  }
}

TEST(Practice, CompensationLeftOnAtTheEndIsSaid) {
  const std::string cut = "T1 M6\nG0 X-20\nG41 D1 G1 X0 Y10\nX40\n";
  const Read r = read(head + cut + "M30\n");
  EXPECT_TRUE(r.ok);
  const Diagnostic* d = r.of("compensation-at-end");
  ASSERT_NE(d, nullptr);
  EXPECT_EQ(d->severity, Severity::note);
  EXPECT_EQ(d->place.line, 6u);
  EXPECT_EQ(read(head + cut + "G40 G0 X60\nM30\n").of("compensation-at-end"), nullptr);
}

// Each at its line and column, counted by hand.
TEST(Practice, WhatCannotBeFollowedIsRefusedAtItsPlace) {
  for (const Row& row : {
           Row{"G28.1\n", "g-code-unknown", 2, 1},
           Row{"X1 G30.1\n", "g-code-unknown", 2, 4},
           Row{"G18 G68 R30\n", "rotation", 2, 5},
           Row{"G68\n", "rotation", 2, 1},
           Row{"G19\nG16\n", "rotation", 3, 1},
           Row{"G95\nG1 X5\n", "spindle-for-feed", 3, 1},
           Row{"G1 F0 X5\n", "feed-missing", 2, 1},
           Row{"G10 L2 X1\n", "g10", 2, 1},
           Row{"G64 P-1\n", "value-negative", 2, 5},
           Row{"G92\n", "axis-words-missing", 2, 1},
           Row{"G2 X5 Y0 I1 R3\n", "arc-both-forms", 2, 13},
           Row{"G2 X5 R2\n", "arc-radius-short", 2, 7},
           Row{"G1 X2\nG2 R2\n", "arc-radius-same-point", 3, 1},
           Row{"G1 X3\nG2 X3 R2\n", "arc-radius-same-point", 3, 7},
           Row{"G2 X5 I5\n", "arc-radius-zero", 2, 1},
           Row{"G38.2\n", "axis-words-missing", 2, 1},
           Row{"G38.2 X.1\n", "probe", 2, 1},
           Row{"G93\nG38.2 X9 F1\n", "probe", 3, 1},
           Row{"G53 G0 X5\n", "machine-position-needed", 2, 8},
           Row{"G1 U5\n", "rotary-axis", 2, 4},
           Row{"G1 X2000000\n", "position-unbounded", 2, 4},
       }) {
    const Read r = read(head + row.text + "M30\n");
    EXPECT_FALSE(r.ok) << row.text;
    const Diagnostic* d = r.of(row.code);
    ASSERT_NE(d, nullptr) << row.text
                          << (r.diagnostics.all().empty() ? "" : to_text(r.diagnostics.all()[0]));
    EXPECT_EQ(d->severity, Severity::error) << row.text;
    EXPECT_EQ(d->place.line, row.line) << row.text << to_text(*d);
    EXPECT_EQ(d->place.column, row.column) << row.text << to_text(*d);
  }
}

// A word passed over changes no motion, and is said (common practice, no source).
TEST(Practice, WhatMovesNothingIsPassedOverAndSaid) {
  const std::string with_gap = head + "G1 X5\n{}\nY5\nM30\n";
  const Read plain = read(fmt::format(fmt::runtime(with_gap), ""));
  ASSERT_EQ(plain.kept.motions.size(), 2u);
  int m_words = 0;
  for (int number = 0; number < 100; ++number) {
    if (group_of_m(number) != MGroup::passed_over) continue;
    ++m_words;
    const Read r = read(fmt::format(fmt::runtime(with_gap), fmt::format("M{}", number)));
    EXPECT_TRUE(r.ok) << number;
    ASSERT_NE(r.of("m-code-ignored"), nullptr) << number;
    EXPECT_EQ(r.of("m-code-ignored")->place.line, 3u);
    EXPECT_EQ(r.kept.motions.size(), 2u) << number;
    EXPECT_FALSE(read(fmt::format(fmt::runtime(with_gap), fmt::format("M{}", number + 800))).ok);
  }
  EXPECT_GT(m_words, 10);
  for (const char* word :
       {"G5.1 Q1", "G8 P1", "G9", "G62", "G5 P10000", "G103 P1", "G187 P2 E0.01"}) {
    const Read r = read(fmt::format(fmt::runtime(with_gap), word));
    EXPECT_TRUE(r.ok) << word;
    ASSERT_NE(r.of("look-ahead-word"), nullptr) << word;
    EXPECT_EQ(r.kept.motions.size(), 2u) << word;
  }
  // Override switches are said; constant surface speed off is what is in force in any case.
  EXPECT_NE(read(fmt::format(fmt::runtime(with_gap), "M49")).of("m-code-ignored"), nullptr);
  for (const char* word : {"M48", "M49", "G97"}) {
    const Read r = read(fmt::format(fmt::runtime(with_gap), word));
    EXPECT_TRUE(r.ok) << word;
    EXPECT_EQ(r.kept.motions.size(), 2u) << word;
  }
  // What would change the path is not passed over, whatever it is called.
  for (const char* word : {"G51", "G12", "G13", "G33", "G60", "G66", "G74", "G5 X1", "G5.1 X2"}) {
    EXPECT_FALSE(read(fmt::format(fmt::runtime(with_gap), word)).ok) << word;
  }
}

// G90.1: I and J are the centre itself; G91.1: from the start, as always (common practice, no
// source).
TEST(Practice, ACentreMayBeAbsolute) {
  const Read by_start = read(head + "G1 X10 Y5\nG91.1\nG3 X0 Y15 I-10 J0\nM30\n");
  const Read by_place = read(head + "G1 X10 Y5\nG90.1\nG3 X0 Y15 I0 J5\nM30\n");
  const Read back = read(head + "G90.1\nG91.1\nG1 X10 Y5\nG3 X0 Y15 I-10 J0\nM30\n");
  ASSERT_TRUE(by_start.ok && by_place.ok && back.ok);
  for (const Read* r : {&by_start, &by_place, &back}) {
    ASSERT_EQ(r->kept.motions.size(), 2u);
    const Motion& m = r->kept.motions[1];
    EXPECT_LT((m.centre - Vec3(0, 5, 0)).norm(), 1e-12);
    EXPECT_NEAR(m.sweep, pi / 2, 1e-12);
  }
}

// The sense of an arc by radius: of the two circles through both ends the smaller part for R, the
// larger for -R (NISTIR 6556 3.5.3.1).
TEST(Practice, AnArcByRadiusTurnsByLessOrMoreThanHalf) {
  const double r = 10, chord = 12, small = 2 * std::asin(chord / 2 / r);
  for (const bool large : {false, true}) {
    for (const bool clockwise : {false, true}) {
      const Read a =
          read(head + fmt::format("G{} X12 R{}10\nM30\n", clockwise ? 2 : 3, large ? "-" : ""));
      ASSERT_EQ(a.kept.motions.size(), 1u);
      const Motion& m = a.kept.motions[0];
      EXPECT_NEAR(std::abs(m.sweep), large ? 2 * pi - small : small, 1e-12);
      EXPECT_EQ(m.sweep < 0, clockwise);
      EXPECT_NEAR((m.centre - m.start).norm(), r, 1e-12);
      EXPECT_NEAR((m.centre - m.end).norm(), r, 1e-12);
    }
  }
}

// G95: feed per turn, so mm/min is F times S. G93: the move takes 1 / F minutes (NISTIR 6556
// 3.5.19).
TEST(Practice, FeedsByTurnAndByTime) {
  const Read turn = read(head + "S1200 M3\nG95\nG1 X30 F0.05\nG94\nX40 F100\nM30\n");
  ASSERT_EQ(turn.kept.motions.size(), 2u);
  EXPECT_NEAR(turn.kept.motions[0].feed, 0.05 * 1200, 1e-9);
  EXPECT_NEAR(turn.kept.motions[1].feed, 100, 1e-9);
  const Read inches = read("G20 G90 S1200 M3\nG95\nG1 X1 F0.002\nM30\n");
  ASSERT_EQ(inches.kept.motions.size(), 1u);
  EXPECT_NEAR(inches.kept.motions[0].feed, 0.002 * 25.4 * 1200, 1e-9);
  const Read time = read(head + "G93\nG1 X30 Y40 F4\nG3 X30 Y60 J10 F2\nM30\n");
  ASSERT_EQ(time.kept.motions.size(), 2u);
  EXPECT_NEAR(time.kept.motions[0].feed, 50 * 4, 1e-9);
  EXPECT_NEAR(time.kept.motions[1].feed, pi * 10 * 2, 1e-9);
}

// Seconds in P; a whole number of hundreds may have been meant as milliseconds, and X as seconds is
// a practice: both are said (common practice, no source).
TEST(Practice, DwellsInTheirUnit) {
  struct Case {
    const char* word;
    double seconds;
    bool said;
  };
  for (const Case& c :
       {Case{"G4 P1.5", 1.5, false}, Case{"G4 P99", 99, false}, Case{"G4 P100", 100, true},
        Case{"G4 P100.", 100, false}, Case{"G4 X2.5", 2.5, true}}) {
    const Read r = read(head + "G1 X5\n" + c.word + "\nX6\nM30\n");
    EXPECT_TRUE(r.ok) << c.word;
    const auto dwell = std::find_if(r.kept.events.begin(), r.kept.events.end(),
                                    [](const Event& e) { return e.kind == EventKind::dwell; });
    ASSERT_NE(dwell, r.kept.events.end()) << c.word;
    EXPECT_DOUBLE_EQ(dwell->value, c.seconds) << c.word;
    EXPECT_EQ(r.of("dwell-word") != nullptr || r.of("dwell-long") != nullptr, c.said) << c.word;
    EXPECT_EQ(r.kept.motions.size(), 2u) << c.word << ": X of a dwell moves nothing";
  }
}

// G53 by the machine's own coordinates: setup is machine less the zero's place (NISTIR 6556
// 3.5.12); and home by parameters 5161.. (3.5.8), which are 0 where nobody has set them.
TEST(Practice, MachineCoordinatesWithTheZeroKnown) {
  const Vec3 zero(-100, -60, -30);
  const Read r = read(head + "G1 X5 Y6 Z7\nG53 G0 X-80 Z-10\nG53 G1 Y-55 F50\nG28\nM30\n",
                      Profile::shop, zero);
  ASSERT_TRUE(r.ok);
  ASSERT_EQ(r.kept.motions.size(), 4u);
  EXPECT_LT((r.kept.motions[1].end - Vec3(20, 6, 20)).norm(), 1e-12);
  EXPECT_EQ(r.kept.motions[1].kind, PathKind::rapid);
  EXPECT_LT((r.kept.motions[2].end - Vec3(20, 5, 20)).norm(), 1e-12);
  EXPECT_EQ(r.kept.motions[2].kind, PathKind::line);
  EXPECT_NEAR(r.kept.motions[2].feed, 50, 1e-12);
  EXPECT_LT((r.kept.motions[3].end + zero).norm(), 1e-12);
  EXPECT_EQ(r.of("machine-position-unknown"), nullptr);
  // Home set by parameters before, in program units.
  const Read set =
      read(head + "#5161=-100 #5162=-60 #5163=-1\nG1 X5\nG28\nM30\n", Profile::shop, zero);
  ASSERT_TRUE(set.ok);
  EXPECT_LT((set.kept.motions.back().end - Vec3(0, 0, 29)).norm(), 1e-12);
}

// A probe move is taken to its end, which is said, and its place stands in parameters 5061..
// (NISTIR 6556 3.5.9).
TEST(Practice, AProbeMoveIsTakenToItsEnd) {
  const Read r = read(head + "G38.2 X4 Y3 F50\nG1 X#5061 Y[#5062 + 1]\nM30\n");
  ASSERT_TRUE(r.ok);
  ASSERT_NE(r.of("probe-assumed"), nullptr);
  EXPECT_EQ(r.of("probe-assumed")->severity, Severity::warning);
  ASSERT_EQ(r.kept.motions.size(), 2u);
  EXPECT_LT((r.kept.motions[0].end - Vec3(4, 3, 0)).norm(), 1e-12);
  EXPECT_NEAR(r.kept.motions[0].feed, 50, 1e-12);
  EXPECT_LT((r.kept.motions[1].end - Vec3(4, 4, 0)).norm(), 1e-12);
}

TEST(Practice, LengthOffsetsThatAreNotTheToolsOwn) {
  EXPECT_EQ(read(head + "T1 M6\nG43 H1\nG1 X5\nM30\n").of("length-offset-other-tool"), nullptr);
  const Read other = read(head + "T1 M6\nG43 H2\nG1 X5\nM30\n");
  EXPECT_TRUE(other.ok);
  ASSERT_NE(other.of("length-offset-other-tool"), nullptr);
  EXPECT_EQ(other.of("length-offset-other-tool")->place.line, 3u);
  const Read none = read(head + "T1 M6\nG43\nG1 X5\nM30\n");
  EXPECT_TRUE(none.ok);
  EXPECT_NE(none.of("length-offset-missing"), nullptr);
  EXPECT_FALSE(read("G21 F100\nG43\nG1 X5\nM2\n", Profile::strict).ok);
}

// A second G92 counts from where the tool is; G92.1 forgets, G92.2 puts aside, G92.3 takes up again
// (NISTIR 6556 3.5.18).
TEST(Practice, ShiftsOfTheZero) {
  const Read r = read(head +
                      "G0 X10\nG92 X4\nX0\n"           // 6 on the table
                      "G92.2\nX0\nG92.3\nX0\n"         // 0, then 6
                      "G92.1\nX0\nG92.3\nX1\nM30\n");  // 0, then nothing kept: 1
  ASSERT_TRUE(r.ok);
  std::vector<double> x;
  for (const Motion& m : r.kept.motions) x.push_back(m.end.x());
  EXPECT_EQ(x, (std::vector<double>{10, 6, 0, 6, 0, 1}));
}

// What two programs differ in is told by the first word that differs.
TEST(Differences, EachIsNamed) {
  struct Pair {
    const char *first, *second, *what;
  };
  const auto program = [](const std::string& text) {
    std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
    const std::filesystem::path folder = ::mkdtemp(name.data());
    std::ofstream(folder / "p.nc") << "G21 G90 F100 T1 M6\nG0 X1\n" << text << "\nM30\n";
    Diagnostics d;
    auto p = read_program(folder / "p.nc", {}, d);
    std::filesystem::remove_all(folder);
    return p;
  };
  for (const Pair& c : {
           Pair{"G0 X5", "G1 X5", "a straight feed, not a rapid"},
           Pair{"G1 X5", "G0 X5", "a rapid, not a straight feed"},
           Pair{"G1 X5", "G2 X5 I2", "an arc, not a straight feed"},
           Pair{"G2 X5 I2", "G3 X5 I2", "turns by 180 degrees, not -180"},
           Pair{"G18 G2 X5 I2", "G2 X5 I2", "an arc in another plane"},
           Pair{"G2 X5 I2", "G2 X5 R2.1", "an arc about "},
           Pair{"M3 S100\nG1 X5", "M4 S100\nG1 X5", "spindle counter-clockwise, not clockwise"},
           Pair{"M3 S100\nG1 X5", "G1 X5", "spindle stopped, not clockwise"},
           Pair{"M3 S100\nG1 X5", "M3 S110\nG1 X5", "speed S110, not S100"},
           Pair{"M7\nG1 X5", "M8\nG1 X5", "coolant differs"},
           Pair{"G43 H1\nG1 X5", "G49\nG1 X5", "length offset H0, not H1"},
           Pair{"G61\nG1 X5", "G64\nG1 X5", "path control (G61, G61.1, G64) differs"},
           Pair{"G64 P.1\nG1 X5", "G64 P.2\nG1 X5", "path control (G61, G61.1, G64) differs"},
           Pair{"G4 P1\nG1 X5", "G4 P2\nG1 X5", "waits 2 s, not 1 s"},
           Pair{"M0\nG1 X5", "M1\nG1 X5", "stops by M1, not M0"},
           Pair{"M0\nG1 X5", "G4 P1\nG1 X5", "another kind of wait"},
           Pair{"M0\nG1 X5", "G1 X5", "moves, where there was a wait"},
           Pair{"G1 X5", "M0\nG1 X5", "waits (dwell, stop or tool change)"},
           Pair{"T2 M6\nG1 X5", "T3 M6\nG1 X5", "changes to tool T3, not T2"},
           Pair{"G1 X5 F100", "G1 X5 F101", "feed 101 mm/min, not 100"},
           Pair{"G1 X5", "G1 X5.001", "ends at X5.001 Y0 Z0, not X5 Y0 Z0"},
           Pair{"G1 X5\nX6", "G1 X5", "ends, where there was more"},
           Pair{"G1 X5", "G1 X5\nX6", "goes on, where there was an end"},
       }) {
    const auto a = program(c.first), b = program(c.second);
    ASSERT_TRUE(a && b) << c.first << " / " << c.second;
    const auto d = first_difference(*a, *b);
    ASSERT_TRUE(d) << c.first << " / " << c.second;
    EXPECT_NE(d->what.find(c.what), std::string::npos)
        << c.first << " / " << c.second << ": " << d->what;
    EXPECT_GE(std::max(d->first_line, d->second_line), 3u) << c.first << " / " << c.second;
    EXPECT_FALSE(first_difference(*a, *a));
  }
}

// Files that are no programs.
TEST(Programs, WhatIsNoProgramIsRefusedByItsReason) {
  std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
  const std::filesystem::path folder = ::mkdtemp(name.data());
  struct File {
    std::string bytes, code;
  };
  for (const File& f : {File{"", "file-empty"}, File{"%\n\n%\n", "file-empty"},
                        File{std::string("G0 X1\0\n", 7), "file-binary"},
                        File{"\x7F\x45\x4C\x46\x01\x02\x03\x04\x05\x06", "file-binary"},
                        File{"G21 G0 X0 Y0\nM30\n", "program-never-moves"}}) {
    std::ofstream(folder / "p.nc", std::ios::binary) << f.bytes;
    Diagnostics d, e;
    EXPECT_FALSE(read_program(folder / "p.nc", {}, d)) << f.code;
    Keep keep;
    EXPECT_FALSE(interpret_file(folder / "p.nc", {}, keep, e)) << f.code;
    ASSERT_FALSE(d.all().empty()) << f.code;
    EXPECT_EQ(d.all().back().code, f.code);
    EXPECT_EQ(e.all().back().code, f.code);
    EXPECT_EQ(d.all().back().place.file, (folder / "p.nc").string());
  }
  Diagnostics d;
  EXPECT_FALSE(read_program(folder / "none.nc", {}, d));
  EXPECT_EQ(d.all().back().code, "file-missing");
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace proveout::nc
