// Numbers without a decimal point: each word by hand, random programs against their own text with
// the points put in, and when a choice nobody declared is named, or a number is taken for a slip.
// That controls read them in either way is common practice, no source.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>
#include <string>
#include <tuple>
#include <utility>

#include "reading.h"

namespace proveout::nc {
namespace {

ReadOptions steps(std::string_view feeds = "whole-units") {
  return reading(
      {{Read::lengths_without_point, "least-increment"}, {Read::feeds_without_point, feeds}});
}

// Nobody declared anything.
ReadOptions undeclared() {
  ReadOptions options;
  options.tool_diameters = {{1, 6}, {2, 8}};
  return options;
}

// Read by the reader of plain lines too, and without it.
std::array<Reading, 2> both_ways(const std::string& text, ReadOptions options = undeclared()) {
  options.quick = true;
  Reading quick = read(text, options);
  options.quick = false;
  return {std::move(quick), read(text, options)};
}

ReadOptions declared() {
  ReadOptions options = undeclared();
  options.reads.declare(Read::lengths_without_point, "whole-units");
  return options;
}

const Assumption* assumed(const Reading& r, Read which) {
  for (const Assumption& a : r.assumed) {
    if (a.which == which) return &a;
  }
  return nullptr;
}

const std::string head = "G21 G90 G17 F100. S500 M3\nG0 Z10.\n";

// The same blocks without points and with them mean the same, to the last bit.
TEST(Numbers, EachWordByHand) {
  struct Row {
    const char *bare, *pointed;
  };
  for (const Row& row : {
           Row{"G1 X100 Y-20500 Z7", "G1 X0.1 Y-20.5 Z0.007"},
           Row{"G1 X100. Y+3", "G1 X100. Y0.003"},
           Row{"G20 G1 X100 Y12345", "G20 G1 X0.01 Y1.2345"},
           Row{"G20\nG1 X7\nG21 X7", "G20\nG1 X.0007\nG21 X.007"},
           Row{"G2 X10000 Y0 I5000 J0", "G2 X10. Y0 I5. J0"},
           Row{"G18 G3 X10000 Z10. R6000", "G18 G3 X10. Z10. R6."},
           Row{"G2 X10000 I5000 P3", "G2 X10. I5. P3"},
           Row{"G91 G81 X3000 Z-3000 R-8000 L4", "G91 G81 X3. Z-3. R-8. L4"},
           Row{"G91 G81 X3000 Z-3000 R-8000 K4", "G91 G81 X3. Z-3. R-8. K4"},
           Row{"G83 X3000 Z-9000 R2000 Q3000", "G83 X3. Z-9. R2. Q3."},
           Row{"G76 X3000 Z-9000 R2000 Q500 P1", "G76 X3. Z-9. R2. Q0.5 P1"},
           Row{"G87 X9000 Z-9000 R2000 I400 J0 K4000", "G87 X9. Z-9. R2. I.4 J0 K4."},
           Row{"G68 X1000 Y2000 R30000\nG1 X5000 Y1000", "G68 X1. Y2. R30.\nG1 X5. Y1."},
           Row{"G16\nG1 X10000 Y45000\nG15", "G16\nG1 X10. Y45.\nG15"},
           Row{"G1 X10000 Y500\nG16 X10000 Y45000", "G1 X10. Y.5\nG16 X10. Y45."},
           Row{"G51 X1000 Y0 Z0 P2\nG1 X5000", "G51 X1. Y0 Z0 P2\nG1 X5."},
           Row{"G51 I2 J2 K1\nG1 X5000", "G51 I2 J2 K1\nG1 X5."},
           Row{"G51.1 X1000\nG1 X5000 Y3", "G51.1 X1.\nG1 X5. Y.003"},
           Row{"G92 X5000\nG1 X9000", "G92 X5.\nG1 X9."},
           Row{"G52 X5000 Z1\nG1 X9000", "G52 X5. Z.001\nG1 X9."},
           Row{"G10 L2 P1 X5000\nG1 X9000", "G10 L2 P1 X5.\nG1 X9."},
           Row{"G28 X5000 Z1", "G28 X5. Z.001"},
           Row{"G54.1 P2 G1 X9000", "G54.1 P2 G1 X9."},
           Row{"D1 G13 I20000 K30000 Q2000 Z-1000", "D1 G13 I20. K30. Q2. Z-1."},
           Row{"G1 X20000 ,R3000\nY15000", "G1 X20. ,R3.\nY15."},
           Row{"G1 X20000 ,C1000\nY15000 F90.", "G1 X20. ,C1.\nY15. F90."},
           Row{"G5.1 Q1\nG1 X9000", "G5.1 Q1\nG1 X9."},
           Row{"G64 P1\nG1 X9000", "G64 P1\nG1 X9."},
           Row{"G4 P2\nG1 X9000", "G4 P2\nG1 X9."},
           Row{"G4 X2500\nG1 X9000", "G4 X2.5\nG1 X9."},
           Row{"#1=5\nG1 X#1 Y[7] Z-#1", "#1=5\nG1 X5. Y7. Z-5."},
           Row{"M98 P7 Q5\nM30\nO7\nN4 G1 X1.\nN5 G1 X9000\nM99", "G1 X9."},
           Row{"T2 M6\nG43 H2 G1 X9000", "T2 M6\nG43 H2 G1 X9."},
           Row{"G1 A0 X9000", "G1 A0 X9."},
       }) {
    const Reading bare = read(head + row.bare + "\nM30\n", steps());
    const Reading pointed = read(head + row.pointed + "\nM30\n", steps());
    const Reading plain = read(head + row.pointed + "\nM30\n", reading({}));
    EXPECT_TRUE(bare.ok && pointed.ok) << row.bare << bare.said();
    EXPECT_FALSE(bare.moves().empty()) << row.bare;
    EXPECT_EQ(bare.heard.all, pointed.heard.all) << row.bare;
    // What has its points everybody reads alike.
    EXPECT_EQ(pointed.heard.all, plain.heard.all) << row.bare;
    EXPECT_EQ(assumed(bare, Read::lengths_without_point), nullptr) << row.bare;
  }
}

TEST(Numbers, HolesOnACircleAndPlainCorners) {
  ReadOptions options = steps();
  options.reads.declare(Read::g70, "bolt-circle");
  options.reads.declare(Read::corners, "plain");
  const auto moves = [&](const char* blocks) {
    const Reading r = read(head + blocks + "\nM30\n", options);
    EXPECT_TRUE(r.ok) << blocks << r.said();
    return r.heard.all;
  };
  EXPECT_EQ(moves("G81 Z-1000 R2000 L0\nG70 I20000 J30000 L6"),
            moves("G81 Z-1. R2. L0\nG70 I20. J30. L6"));
  EXPECT_EQ(moves("G1 X20000 R3000\nY15000 C500\nX5."), moves("G1 X20. R3.\nY15. C.5\nX5."));
  EXPECT_EQ(moves("G20 G1 X20000 C500\nY15000"), moves("G20 G1 X2. C.05\nY1.5"));
}

// Steps of F by unit and mode, in mm/min at 500 1/min.
TEST(Numbers, FeedsByUnitAndMode) {
  struct Row {
    const char *block, *choice;
    double feed;
  };
  constexpr double inch = 25.4;
  for (const Row& row : {
           Row{"G21 G1 X5. F300", "whole-units", 300},
           Row{"G21 G1 X5. F300", "feed-increment", 300},
           Row{"G21 G1 X5. F300000", "least-increment", 300},
           Row{"G20 G1 X5. F40", "whole-units", 40 * inch},
           Row{"G20 G1 X5. F4000", "feed-increment", 40 * inch},
           Row{"G20 G1 X5. F400000", "least-increment", 40 * inch},
           Row{"G20 G1 X5. F40.", "least-increment", 40 * inch},
           Row{"G21 G95 G1 X5. F20", "feed-increment", 500 * 0.2},
           Row{"G21 G95 G1 X5. F200", "least-increment", 500 * 0.2},
           Row{"G20 G95 G1 X5. F80", "feed-increment", 500 * 0.008 * inch},
           Row{"G20 G95 G1 X5. F80", "least-increment", 500 * 0.008 * inch},
           Row{"G21 G95 G1 X5. F2", "whole-units", 500 * 2},
           Row{"G21 G93 G1 X5. F20", "least-increment", 100},  // 5 mm in a twentieth of a minute
           Row{"G21 G93 G1 X5. F20", "feed-increment", 100},
           Row{"G21 G1 X5. F[300]", "least-increment", 300},
       }) {
    const Reading r = read(std::string("S500 M3\n") + row.block + "\nM30\n",
                           reading({{Read::feeds_without_point, row.choice}}));
    ASSERT_TRUE(r.ok) << row.block << r.said();
    EXPECT_NEAR(r.moves().back().feed, row.feed, 1e-9 * row.feed) << row.block << row.choice;
  }
}

// X of G4 without a point: milliseconds where P of G4 is, or where lengths are steps.
TEST(Numbers, WaitsInX) {
  const auto waited = [](const char* block, const ReadOptions& options) {
    const Reading r = read(std::string("G21\n") + block + "\nG1 X9. F90.\nM30\n", options);
    EXPECT_TRUE(r.ok) << r.said();
    return r.heard.events.front().value;
  };
  for (const auto& options : {steps(), reading({{Read::wait_p, "milliseconds"}}),
                              reading({{Read::wait_p, "by-point"}})}) {
    EXPECT_DOUBLE_EQ(waited("G4 X1500", options), 1.5);
    EXPECT_DOUBLE_EQ(waited("G4 X1.5", options), 1.5);
  }
  EXPECT_DOUBLE_EQ(waited("G4 X15", reading({})), 15);
  const Reading r = read("G21\nG4 X1500\nG1 X9. F90.\nM30\n", undeclared());
  EXPECT_NE(r.of("dwell-long"), nullptr);
  ASSERT_EQ(r.assumed.size(), 1u) << r.said();
  EXPECT_EQ(r.assumed[0].which, Read::wait_p);
}

// One line where the program depends on the choice, at the first number it hangs on.
TEST(Numbers, TheChoiceIsNamedWhereTheProgramDependsOnIt) {
  struct Row {
    const char* blocks;
    std::uint32_t line;
    const char* begins;
  };
  for (const Row& row : {
           // No number has a point; some have, as what prints 3.5 and 4 alike writes them.
           Row{"G0 X0\nG0 X10 Y20\nG1 Z-5 F100\nX30", 3, "X10, without a point, is taken as 10 mm"},
           Row{"G1 X10.5 Y20 Z-5.2 F100", 2, "Y20, without a point, is taken as 20 mm"},
           Row{"G20 G0 X10.5\nG1 Y2 F10.", 3, "Y2, without a point, is taken as 2 inches"},
           Row{"G68 X0 Y0 R45\nG1 X1.5 Y1.5 F9.5", 2,
               "R45, without a point, is taken as 45 degrees"},
           Row{"G2 I5 F90.5", 2, "I5, without a point, is taken as 5 mm"},
           Row{"G83 X1.5 Z-9.5 R.5 Q3 F100", 2, "Q3, without a point, is taken as 3 mm"},
           Row{"G1 X10.5 ,R3 F90.5\nY9.5", 2, ",R3, without a point, is taken as 3 mm"},
           Row{"#1=5.5\nG1 X#1 Y2 F90.5", 3, "Y2, without a point, is taken as 2 mm"},
       }) {
    ReadOptions options = undeclared();
    options.reads.declare(Read::corners, "comma");
    const Reading r = read(std::string("G21 G90 G17 S500 M3\n") + row.blocks + "\nM30\n", options);
    ASSERT_TRUE(r.ok) << row.blocks << r.said();
    const Assumption* const a = assumed(r, Read::lengths_without_point);
    ASSERT_NE(a, nullptr) << row.blocks;
    EXPECT_EQ(a->line, row.line) << row.blocks;
    EXPECT_EQ(a->text, row.begins);
    ASSERT_NE(r.of("dialect-choice"), nullptr);
    EXPECT_EQ(r.of("dialect-choice")->place.line, row.line);
    EXPECT_EQ(r.of("point-missing"), nullptr) << r.said();
    int told = 0;
    for (const Diagnostic& d : r.diagnostics.all())
      told += d.what.find("lengths_without_point") != std::string::npos;
    EXPECT_EQ(told, 1) << r.said();
    options.reads.declare(Read::lengths_without_point, "whole-units");
    EXPECT_EQ(assumed(read(std::string("G21 S500 M3\n") + row.blocks + "\nM30\n", options),
                      Read::lengths_without_point),
              nullptr);
  }
}

// Zeros, counts, times, numbers of things and what is worked out read alike either way.
TEST(Numbers, WhatReadsAlikeNamesNoChoice) {
  for (const char* blocks :
       {"G0 X0 Y0\nG1 X1.5 F100", "G81 X1.5 Z-1.5 R.5 L3 F100", "G81 X1.5 Z-1.5 R.5 K3 F100",
        "G82 X1.5 Z-1.5 R.5 P1 F100", "G4 P2\nG1 X1.5 F100", "T2 M6\nG43 H2 G1 X1.5 F100",
        "#1=5\nG1 X#1 Y[7] F100", "G51 X0 Y0 Z0 P2\nG1 X1.5 F100", "G5.1 Q1\nG1 X1.5 F100",
        "G64 P1\nG1 X1.5 F100", "G54.1 P2\nG1 X1.5 F100", "G2 X1.5 Y1.5 R5.5 P1 F100",
        "G1 X1.5 F100 A0", "M98 P7 L2\nM30\nO7 \nG1 X1.5 F100\nM99"}) {
    ReadOptions options = undeclared();
    const Reading r = read(std::string("G21 G90 G17 S500 M3\n") + blocks + "\nM30\n", options);
    EXPECT_TRUE(r.ok) << blocks << r.said();
    EXPECT_EQ(assumed(r, Read::lengths_without_point), nullptr) << blocks << r.said();
    EXPECT_EQ(assumed(r, Read::feeds_without_point), nullptr) << blocks;
    EXPECT_EQ(r.of("point-missing"), nullptr) << blocks;
  }
}

// A program that puts points on whole numbers, or prints places that are 0, and leaves one out.
TEST(Numbers, ALoneNumberWithoutAPointIsWarnedOf) {
  struct Row {
    const char* blocks;
    std::uint32_t line, column;
    bool further;
  };
  for (const Row& row : {
           Row{"G0 X10. Y20.\nG1 Z-5 F100\nX30.", 3, 4, false},
           Row{"G0 X10.500 Y20.000\nG1 Z-5.000 F100\nX30 Y3.000", 4, 1, false},
           Row{"G0 Z15\nG1 X1.250 Y2.000 F100", 2, 4, false},
           Row{"G0 Z15\nG1 X1.250 Y2.000 F100\nX4 Y.5\nG0 Z15", 2, 4, true},
           Row{"G0 X10. Y20.\nG83 X5. Z-9. R2. Q3000 F100", 3, 18, false},
       }) {
    const std::string text = std::string("G21 G90 G17 S500 M3\n") + row.blocks + "\nM30\n";
    for (const Reading& r : both_ways(text)) {
      ASSERT_TRUE(r.ok) << row.blocks << r.said();
      const Diagnostic* const d = r.of("point-missing");
      ASSERT_NE(d, nullptr) << row.blocks << r.said();
      EXPECT_EQ(d->severity, Severity::warning);
      EXPECT_EQ(d->place.line, row.line) << row.blocks;
      EXPECT_EQ(d->place.column, row.column) << row.blocks;
      EXPECT_EQ(d->what.find("2 further lines have") != std::string::npos, row.further) << d->what;
      EXPECT_EQ(r.of("dialect-choice"), nullptr) << r.said();
      EXPECT_NE(assumed(r, Read::lengths_without_point), nullptr);
    }
    for (const Reading& r : both_ways(text, declared())) EXPECT_EQ(r.of("point-missing"), nullptr);
  }
  // Points on zeros and on feeds and counts are no sign of it.
  for (const char* blocks :
       {"G0 X0. Y0.\nG91 G28 Z0.\nG90 G1 X10 Y1.25 F100.", "G4 P2.\nG0 X10\nG1 Y1.25 F90.0"}) {
    EXPECT_EQ(read(std::string("G21\n") + blocks + "\nM30\n", undeclared()).of("point-missing"),
              nullptr)
        << blocks;
  }
}

// Where nearly all whole numbers, or all of X, Y and Z, go without, the program counts on whole
// units, and its few points are a habit: it is named, and not warned of. Common practice, no
// source.
TEST(Numbers, PointsThatAreTheExceptionAreNoSignOfASlip) {
  struct Row {
    const char* blocks;
    bool warned;
  };
  for (const Row& row : {
           // Whole X, Y and Z without, turns and levels with: how some posts print.
           Row{"G0 X10 Y20\nG1 Z-5\nX30.5\nG2 X40.5 Y30 I10. J0.\nG3 X30.5 Y20 I-10. J0.", false},
           Row{"G20 G0 X10 Y2\nG1 Z-5\nX3\nG81 X1 Y2 Z-1 R.1\nX3 Y4\nX2.", false},
           Row{"G0 X10 Y20\nG1 Z-5\nX30\nY5\nX12 Y7\nX9 Y6.\nX3 Y2", false},
           Row{"G0 X10.5 Y20.5\nG1 Z-5.5\nG2 I5 J3\nI4 J6\nG81 X1.5 Z-1.5 R2.", false},
           // One in three with a point, and all but one.
           Row{"G0 X10 Y20.\nG1 Z-5\nX30\nY5\nX12 Y7.\nX9 Y6.\nX3 Y2", true},
           Row{"G0 X10. Y20.\nG2 X18. Y20. R5\nG1 X30.\nX5.5", true},
           Row{"G0 X10. Y20.\nG68 X0. Y0. R45\nG1 X30. Y5.", true},
           Row{"G0 X10. Y20.\nG43 H1 Z25\nG1 Z-3.\nX30. Y5.5", true},
           Row{"G20 G0 X1. Y2.\nG1 Z-1\nX3.5 Y5.", true},
           // Turns of five lines without a point, beside places that all have one.
           Row{"G0 X10. Y20.\nG2 X20. Y20. I5 J0\nX30. I5\nX40. I5\nX50. I5\nX60. I5", true},
       }) {
    const std::string text = std::string("G21 G90 G17 F100 S500 M3\n") + row.blocks + "\nM30\n";
    for (const Reading& r : both_ways(text)) {
      ASSERT_TRUE(r.ok) << row.blocks << r.said();
      EXPECT_EQ(r.of("point-missing") != nullptr, row.warned) << row.blocks << r.said();
      EXPECT_NE(assumed(r, Read::lengths_without_point), nullptr) << row.blocks;
      EXPECT_EQ(r.of(row.warned ? "point-missing" : "dialect-choice")->place.line,
                assumed(r, Read::lengths_without_point)->line);
    }
  }
}

// The first 2000 whole places settle a long program's manner; what comes behind them is told of by
// it.
TEST(Numbers, ALongProgramIsJudgedByItsBeginning) {
  for (const bool pointed : {true, false}) {
    std::string text = "G21 G90 G17 F100 S500 M3\nG0 X1.5 Y2.5\nG1 Z-.5\n";
    for (int k = 0; k < 3000; ++k)
      text += fmt::format("X{}{} Y{}{}\n", k % 90 + 1, pointed ? "." : "", k % 7 + 1,
                          pointed ? "." : "");
    for (int k = 0; k < 9000; ++k) text += fmt::format("X{}{}\n", k % 90 + 1, pointed ? "" : ".");
    const Reading r = read(text + "M30\n", undeclared());
    ASSERT_TRUE(r.ok) << r.said();
    EXPECT_EQ(r.of("point-missing") != nullptr, pointed) << r.said();
    ASSERT_NE(assumed(r, Read::lengths_without_point), nullptr);
    EXPECT_EQ(assumed(r, Read::lengths_without_point)->line, pointed ? 3004u : 4u);
  }
}

// A length beyond any bench is a count of steps, also where no number has a point.
TEST(Numbers, LengthsBeyondAnyUseAreWarnedOf) {
  struct Row {
    const char* blocks;
    std::uint32_t line;  // 0: none
    const char* says;
  };
  for (const Row& row : {
           Row{"G0 X15000 Y22500\nG1 Z-3000", 2, "X15000, without a point, is taken as 15000 mm"},
           Row{"G0 X10 Y20\nG1 Z-3000", 3, "take it as -3 mm"},
           Row{"G83 X10 Y20 Z-9 R2 Q3000", 2, "Q3000, without a point, is taken as 3000 mm"},
           Row{"G20 G0 X10 Y2\nG83 X1 Z-1 R1 Q500", 3, "take it as 0.05 inches"},
           Row{"G20 G0 X15000", 2, "take it as 1.5 inches"},
           Row{"G0 X10. Y20.\nG83 X10. Y20. Z-9. R2. Q3000", 3, "take it as 3 mm"},
           Row{"G0 X10. Y20\nG83 X10. Y20. Z-9. R2. Q3000", 3, "take it as 3 mm"},
           Row{"G0 X1200 Y800\nG1 Z-50\nG2 X1300 R2500", 0, ""},
           Row{"G0 X15000. Y10", 0, ""},
           Row{"G20 G0 X40 Y20\nG1 Z-9", 0, ""},
           Row{"G0 X10 Y20\nM3 S12000\nG4 P900\nG1 Z-5 F8000", 0, ""},
       }) {
    const std::string text = std::string("G21 G90 G17 F100 S500 M3\n") + row.blocks + "\nM30\n";
    for (const Reading& r : both_ways(text)) {
      ASSERT_TRUE(r.ok) << row.blocks << r.said();
      bool found = false;
      for (const Diagnostic& d : r.diagnostics.all()) {
        found = found || (d.code == "point-missing" && d.place.line == row.line &&
                          d.what.find(row.says) != std::string::npos);
        const bool beyond = d.what.find("more than such a word") != std::string::npos;
        EXPECT_FALSE(row.line == 0 && beyond) << row.blocks << d.what;
      }
      EXPECT_EQ(found, row.line != 0) << row.blocks << r.said();
    }
    for (const Reading& r : both_ways(text, declared())) EXPECT_EQ(r.of("point-missing"), nullptr);
  }
}

// Where inch or feed per turn makes the readings of F differ, or the control counts steps.
TEST(Numbers, FeedsWithoutAPointAreNamedWhereTheyDiffer) {
  const auto named = [](const char* blocks, const ReadOptions& options) {
    const Reading r = read(std::string("S500 M3\n") + blocks + "\nM30\n", options);
    EXPECT_TRUE(r.ok) << blocks << r.said();
    const Assumption* const a = assumed(r, Read::feeds_without_point);
    return a == nullptr ? 0u : a->line;
  };
  EXPECT_EQ(named("G21 G1 X5.5 F300\nG20 X1.5 F12.", undeclared()), 0u);
  EXPECT_EQ(named("G20 G1 X5.5 F40.\nX1.5 F30", undeclared()), 3u);
  EXPECT_EQ(named("G21 G95 G1 X5.5 F.1\nX1.5 F1", undeclared()), 3u);
  EXPECT_EQ(named("G20 G93 G1 X5.5 F3", undeclared()), 0u);
  ReadOptions options = undeclared();
  options.reads.declare(Read::lengths_without_point, "least-increment");
  EXPECT_EQ(named("G21 G1 X5.5 F.1\nX1.5 F300", options), 3u);
  options.reads.declare(Read::feeds_without_point, "feed-increment");
  EXPECT_EQ(named("G21 G1 X5.5 F.1\nX1.5 F300", options), 0u);
}

// What a macro is given is a number, which controls scale or pass as it is.
TEST(Numbers, ArgumentsOfMacrosAreTold) {
  const std::string text = "G21 G90 F100.\nG65 P7 X5 A3 S4\nM30\nO7\nG1 X#24 Y#1 Z[#19/8]\nM99\n";
  const Reading whole = read(text, undeclared());
  ASSERT_TRUE(whole.ok) << whole.said();
  EXPECT_EQ(whole.moves().back().end, Vec3(5, 3, 0.5));
  ASSERT_NE(assumed(whole, Read::lengths_without_point), nullptr);
  EXPECT_EQ(assumed(whole, Read::lengths_without_point)->line, 2u);
  const Reading scaled = read(text, steps());
  ASSERT_TRUE(scaled.ok) << scaled.said();
  EXPECT_EQ(scaled.moves().back().end, Vec3(0.005, 0.003, 0.5));
  ASSERT_NE(scaled.of("argument-without-point"), nullptr);
  EXPECT_EQ(read("G21 G90 F100.\nG65 P7 X5. A3.\nM30\nO7\nG1 X#24 Y#1\nM99\n", steps())
                .of("argument-without-point"),
            nullptr);
}

// The report makes one number of digits with spaces between them (3.3.2); in the shop a letter may
// be missing there.
TEST(Numbers, SpacesWithinThemAreTold) {
  for (const auto& [block, column, length] : {std::tuple{"G1 X10 20.5", 5u, 7u},
                                              {"G1 X1 5 Y2.", 5u, 3u},
                                              {"G1 X5. F10 0", 9u, 4u},
                                              {"G1 0 X5.", 2u, 3u},
                                              {"#1=5 6", 4u, 3u},
                                              {"G1 X[1 2+3]", 6u, 3u},
                                              {"M1 9", 2u, 3u}}) {
    const Reading r = read(head + "G0 X1.\n" + block + "\nM30\n", reading({}));
    const Diagnostic* const d = r.of("number-spaced");
    ASSERT_NE(d, nullptr) << block << r.said();
    EXPECT_EQ(d->place.line, 4u);
    EXPECT_EQ(d->place.column, column) << block;
    EXPECT_EQ(d->place.length, length) << block;
  }
  for (const char* block : {"G1 X 5. Y- 3.", "G1 X5 Y3 ", "G 1 X5.", "G1 X[1 + 2] ", "G1 X5.\tY3.",
                            "#1 = 5 ", "N10 G1 X5."}) {
    EXPECT_EQ(read(head + block + "\nM30\n", reading({})).of("number-spaced"), nullptr) << block;
  }
  ReadOptions strict;
  strict.profile = Profile::strict;
  EXPECT_TRUE(read("G21 F100\nG1 X1 5\nM2\n", strict).ok);
  EXPECT_EQ(read("G21 F100\nG1 X1 5\nM2\n", strict).of("number-spaced"), nullptr);
}

// Random programs written twice: with points everywhere, and with some words as counts of steps.
class Twice {
 public:
  explicit Twice(unsigned seed) : random_(seed) {}
  std::string bare, pointed;

  int pick(int n) { return std::uniform_int_distribution<int>(0, n - 1)(random_); }
  void both(const std::string& text) {
    bare += text;
    pointed += text;
  }
  void length(char letter, int low, int high) { word(letter, low, high, inch ? 4 : 3); }
  void angle(char letter) { word(letter, 1000, 90000, 3); }
  void feed() {
    if (pick(3) != 0) return;
    const int steps = 30000 + 100 * pick(400);
    const int places = choice == 0 ? 0 : choice == 2 ? (inch ? 4 : 3) : inch ? 2 : 0;
    const int written = places >= 3 ? 10 * steps : places == 2 ? steps : steps / 100;
    write('F', written, places);
  }
  bool inch = false;
  int choice = 0;  // of feeds

 private:
  void word(char letter, int low, int high, int places) {
    write(letter, low + pick(high - low + 1), places);
  }
  void write(char letter, int steps, int places) {
    const double scale = std::pow(10.0, places);
    const std::string with =
        fmt::format(" {}{:.{}f}{}", letter, steps / scale, places, places == 0 ? "." : "");
    pointed += with;
    bare += pick(3) == 0 ? with : fmt::format(" {}{}", letter, steps);
  }
  std::mt19937 random_;
};

void random_block(Twice& t) {
  switch (t.pick(13)) {
    case 0:
      t.inch = !t.inch;
      t.both(t.inch ? "G20 G0" : "G21 G0");
      t.length('X', -90000, 90000);
      break;
    case 1:
      t.both("G0");
      t.length('X', -90000, 90000);
      t.length('Z', 5000, 90000);
      break;
    case 2:
      t.both("G2");
      t.length('I', 1000, 5000);
      t.length('J', -5000, -1000);
      break;
    case 3:
      t.both("G91 G3");
      t.length('X', 100, 900);
      t.length('Y', 100, 900);
      t.length('R', 5000, 9000);
      t.both("\nG90");
      break;
    case 4:
      t.both(fmt::format("G99 G83 L{}", 1 + t.pick(3)));
      t.length('X', -9000, 9000);
      t.length('Z', -9000, -100);
      t.length('R', 100, 3000);
      t.length('Q', 900, 3000);
      t.feed();
      t.both("\nG80");
      break;
    case 5:
      t.both("G68");
      t.length('X', -9000, 9000);
      t.length('Y', -9000, 9000);
      t.angle('R');
      t.both("\nG1");
      t.length('X', -9000, 9000);
      t.length('Y', -9000, 9000);
      t.both("\nG69");
      break;
    case 6:
      t.both("G16 G1");
      t.length('X', 1000, 9000);
      t.angle('Y');
      t.both("\nG15");
      break;
    case 7:
      t.both("G52");
      t.length('X', -9000, 9000);
      break;
    case 8:
      t.both("G92");
      t.length('Y', -9000, 9000);
      break;
    case 9:
      t.both("D1 G13");
      t.length('I', 50000, 90000);
      t.both("\nG0 Z9.");
      break;
    case 10:
      t.both("G1 Z[3*2] Y#7");
      t.length('X', -9000, 9000);
      t.feed();
      break;
    case 11:
      t.both("G4 P3");
      break;
    default:
      t.both("G1");
      t.length('X', -9000, 9000);
      t.length('Y', -9000, 9000);
      t.feed();
      break;
  }
  t.both("\n");
}

TEST(Numbers, RandomProgramsMeanTheirTextWithPoints) {
  constexpr std::string_view choices[] = {"whole-units", "feed-increment", "least-increment"};
  for (unsigned seed = 1; seed <= 600; ++seed) {
    Twice t(seed);
    t.choice = static_cast<int>(seed % 3);
    t.inch = seed % 2 == 0;
    t.both(t.inch ? "G20" : "G21");
    t.both(" G90 G17 G94 T1 M6\nS900 M3\n#7=4\nG1 X.5 F99.5\n");
    for (int k = 0; k < 25; ++k) random_block(t);
    t.both("M30\n");
    ReadOptions options = steps(choices[t.choice]);
    const Reading pointed = read(t.pointed, reading({}));
    const Reading bare = read(t.bare, options);
    ASSERT_TRUE(pointed.ok) << "seed " << seed << '\n' << t.pointed << pointed.said();
    ASSERT_TRUE(bare.ok) << "seed " << seed << '\n' << t.bare << bare.said();
    ASSERT_EQ(bare.heard.all, pointed.heard.all) << "seed " << seed << '\n' << t.bare;
    ASSERT_EQ(bare.modes, pointed.modes) << "seed " << seed << '\n' << t.bare;
    ASSERT_EQ(read(t.pointed, options).heard.all, pointed.heard.all) << "seed " << seed;
    options.quick = false;
    ASSERT_EQ(read(t.bare, options).heard.all, pointed.heard.all) << "seed " << seed;
  }
}

}  // namespace
}  // namespace proveout::nc
