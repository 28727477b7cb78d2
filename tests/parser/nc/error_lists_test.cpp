// The error cases NISTIR 6556 states, each at its section, in the strict profile; and what the shop
// profile makes of what posted programs do (common practice, no source).
#include <gtest/gtest.h>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

struct Nothing : Sink {
  std::size_t motions = 0;
  void motion(const Motion&, const ModalState&) override { ++motions; }
  void event(const Event&, const ModalState&) override {}
};

struct Case {
  const char *section, *text, *code;
};

Diagnostics read(const std::string& text, Profile profile, bool& ok) {
  Diagnostics d;
  ReadOptions options;
  options.profile = profile;
  options.start = Vec3(1, 2, 3);
  options.tool_diameters = {{1, 6}};
  Nothing sink;
  ok = interpret(text, "test.nc", options, sink, d);
  return d;
}

TEST(StrictProfile, ErrorsOfTheReport) {
  const std::vector<Case> cases = {
      {"A.1", "G1 X1 F10\n%\n", "percent-alone"},
      {"3.3", "G1 X1 F10 &\n", "character-not-allowed"},
      {"3.3.4", "G1 X1 F10 (open\n", "comment-open"},
      {"3.3.4", "G1 X1 F10 (a (b) c)\n", "comment-nested"},
      {"3.3.1", "N000009 G1 X1 F10\n", "line-number"},
      {"E.2", "G1 X1 F10 ; practice\n", "semicolon-comment"},
      {"3.2.1", "G1 X#5400 F10\n", "parameter-index"},
      {"3.2.1", "G1 X#1.5 F10\n", "parameter-index"},
      {"3.3.2.1", "G1.7 X1 F10\n", "g-code-unknown"},
      {"3.3.2.1", "G1 X1 F10 M77\n", "m-code-unknown"},
      {"3.3.2.3", "G1 X[1+] F10\n", "expression"},
      {"3.3.2.3", "G1 X[1/0] F10\n", "expression"},
      {"3.3.2.3", "G1 X[1+2 F10\n", "expression"},
      {"table 10", "G1 X ASIM[0.5] F10\n", "number-missing"},
      {"3.3.5", "G0 G1 X1 F10\n", "group-repeated"},
      {"3.3.5", "G1 X1 X2 F10\n", "word-repeated"},
      {"3.3.5", "G1 X1 F10 M3 M4\n", "group-repeated"},
      {"3.5.1", "G0\n", "axis-words-missing"},
      {"3.5.2", "G1 F10\n", "axis-words-missing"},
      {"3.5.15", "G80\nX1\n", "axis-words-idle"},
      {"3.5.3", "G2 X4 F10\n", "arc-without-centre"},
      {"3.5.3.1", "G2 X1 Y2 R5 F10\n", "arc-radius-same-point"},
      {"3.5.3.2", "G2 X5 Y2 I2.1 F10\n", "arc-radius-mismatch"},
      {"3.5.4", "G4\n", "dwell-missing"},
      {"3.5.4", "G4 P-1\n", "value-negative"},
      {"3.5.5", "G10 L2 P10 X1\n", "value-out-of-range"},
      {"3.5.5", "G10 L3 P1 X1\n", "g10"},
      {"3.5.10", "G18\nG41 D1\n", "compensation"},
      {"3.5.10", "G41 D1\nG42 D1\n", "compensation"},
      {"B.5", "F10 G41 D1\nG1 X1 Y3\n", "compensation"},
      {"B.5", "F10 G41 D1\nG1 X20\nG20\n", "compensation"},
      {"3.5.11", "G43 H-1\n", "value-negative"},
      {"3.5.12", "G81 R5 Z1 X1 F10\nG53 X1\n", "g53-without-motion"},
      {"3.5.16", "G81 R5 F10\n", "axis-words-missing"},
      {"3.5.16", "G81 X1 Z1 F10\n", "cycle-retract-missing"},
      {"3.5.16", "G81 X1 R5 F10\n", "cycle-depth-missing"},
      {"3.5.16", "G81 X1 Z5 R1 F10\n", "cycle-retract-below"},
      {"3.5.16", "G81 X1 Z1 R5 L0 F10\n", "cycle-repeats"},
      {"3.5.16", "G82 X1 Z1 R5 F10\n", "cycle-word"},
      {"3.5.16", "G82 X1 Z1 R5 P-1 F10\n", "value-negative"},
      {"3.5.16", "G83 X1 Z1 R5 Q0 F10\n", "cycle-word"},
      {"3.5.16", "G84 X1 Z1 R5 F10\n", "cycle-spindle"},
      {"3.5.16", "G86 X1 Z1 R5 P1 F10\n", "cycle-spindle"},
      {"3.5.16", "G93\nG81 X1 Z1 R5 F10\n", "cycle-feed-mode"},
      {"3.5.18", "G92\n", "axis-words-missing"},
      {"3.5.19", "G93 G1 X5 F10\nX6\n", "inverse-feed-missing"},
      {"3.6.3", "M6\n", "tool-change-without-number"},
      {"3.7.2", "S-1\n", "value-negative"},
      {"3.7.3", "T1.5\n", "value-not-whole"},
      {"2.1.2.5", "G1 X5\n", "feed-missing"},
  };
  for (const Case& c : cases) {
    bool ok = true;
    const Diagnostics d = read(std::string(c.text) + "M2\n", Profile::strict, ok);
    EXPECT_FALSE(ok) << c.section << ": " << c.text;
    bool found = false;
    for (const auto& x : d.all()) {
      found = found || (x.code == c.code && x.severity == Severity::error);
      EXPECT_GE(x.place.line, 1u) << c.text;
      EXPECT_LE(x.place.line, 4u) << c.text;
    }
    EXPECT_TRUE(found) << c.section << ": " << c.text
                       << (d.all().empty() ? "" : to_text(d.all()[0]));
  }
}

TEST(ShopProfile, TakesWhatPostsDo) {
  const std::vector<std::string> programs = {
      "%\nO1234 (NAME)\nN10G0G17G40G49G80G90\nN20T1M6\nN130G0G90G54X.9423Y-.4281S10000M3\n"  // NOLINT
      "G1Z-1.F40.\nM30\n%\n",
      "G21\nG0 X1 ; comment\nG1 Z-1 F100.\nG2 I5. J0.\nM30",
      "\xEF\xBB\xBFg21\r\ng1 x5 f100\r\nm30\r\n",
      "G21 G1 X5 F100\rG1 X6\rM30\r",
      "(caf\xE9)\nG21 G1 X5 F100\nM30\n",
      "G21 G91 G28 Z0.\nG90 G1 X5 F100\nM30\n",
      "G21 F100\nG1 X1\nM98 P100 L2\nG1 X9\nM30\nO100\nG91 G1 X1\nG90\nM99\n",
  };
  for (const auto& text : programs) {
    bool ok = false;
    const Diagnostics d = read(text, Profile::shop, ok);
    EXPECT_TRUE(ok) << text << (d.all().empty() ? "" : to_text(d.all()[0]));
  }
}

// 'G0 G91 G28 Z0.' is how posts retract: the G0 is in force from there on (common practice, no
// source).
TEST(ShopProfile, AMotionCodeBesideG28StaysInForce) {
  struct Kinds : Sink {
    std::vector<PathKind> kinds;
    void motion(const Motion& m, const ModalState&) override {
      if (length(m) > 0) kinds.push_back(m.kind);
    }
    void event(const Event&, const ModalState&) override {}
  } sink;
  Diagnostics d;
  ReadOptions options;
  options.start = Vec3(0, 0, 5);
  ASSERT_TRUE(
      interpret("G21 G90 F100\nG1 X5\nG0 G91 G28 Z0.\nG90 X9\nM30\n", "t.nc", options, sink, d));
  ASSERT_GE(sink.kinds.size(), 2u);
  EXPECT_EQ(sink.kinds.front(), PathKind::line);
  EXPECT_EQ(sink.kinds.back(), PathKind::rapid);
}

TEST(ShopProfile, NothingThatMovesIsPassedOver) {
  for (const char* text : {"G21 G33 Z-5 K1 F10\n", "G21 G1 A90 F10\n", "G21 IF [1] GOTO 5\n",
                           "G21 G5 X1 F1\n", "G21 G51 X2\n", "G53 X5\n"}) {
    bool ok = true;
    read(std::string(text) + "M2\n", Profile::shop, ok);
    EXPECT_FALSE(ok) << text;
  }
}

TEST(ShopProfile, NearMissesAreNamed) {
  struct Row {
    const char *text, *remedy;
  };
  for (const Row& row :
       {Row{"G1 X[COZ[3]]", "perhaps COS was meant"},
        Row{"G1 X ASIM[.5]", "perhaps ASIN was meant"},
        Row{"G1 X[SQTR[4]]", "perhaps SQRT was meant"}, Row{"G5.4", "perhaps G54 was meant"},
        Row{"G591", "perhaps G59.1 was meant"}, Row{"G1 X5,5", "write decimals with a point"},
        Row{"G1 XO", "perhaps the digit 0 was meant"},
        Row{"G1 X1O", "perhaps the digit 0 was meant"},
        Row{"G1 Xnan", "the post could not work this number out: mend it there"},
        Row{"G1 X-inf", "the post could not work this number out: mend it there"},
        Row{"G1 X\u22125", "write minus as a plain -"},
        Row{"G1 X\u20135", "write minus as a plain -"},
        Row{"G1 X#<a>", "named parameters are not read: use #1 to #5399"}}) {
    bool ok = true;
    const Diagnostics d = read("G21 F100\n" + std::string(row.text) + "\nM30\n", Profile::shop, ok);
    EXPECT_FALSE(ok) << row.text;
    ASSERT_EQ(d.all().size(), 1u) << row.text
                                  << to_text(d.all().back());  // and no word of a missing M30
    EXPECT_EQ(d.all()[0].remedy, row.remedy) << row.text;
  }
}

// What a number may be stands in the message.
TEST(ShopProfile, RangesAreNamed) {
  struct Row {
    const char *text, *code, *what;
  };
  for (const Row& row :
       {Row{"M98 P1 L99999", "value-out-of-range", "L99999 is out of range: 1 to 9999"},
        Row{"M98 P1 L0", "value-out-of-range", "L0 is out of range: 1 to 9999"},
        Row{"G10 L2 P99 X1", "value-out-of-range", "P99 is out of range: 0 to 9"},
        Row{"G81 X1 Z-1 R1 L200000", "cycle-repeats", "L must be a whole number from 0 to 9999"}}) {
    bool ok = true;
    const Diagnostics d = read("G21 F100\n" + std::string(row.text) + "\nM30\n", Profile::shop, ok);
    EXPECT_FALSE(ok) << row.text;
    ASSERT_FALSE(d.all().empty());
    EXPECT_EQ(d.all()[0].code, row.code) << row.text;
    EXPECT_EQ(d.all()[0].what, row.what) << row.text;
  }
}

// A download or a copy that broke off: wherever a program's text ends without its end, it warns.
TEST(ShopProfile, AProgramCutShortIsWarnedOf) {
  const std::string text = "G21 G90 F100\nT1 M6\nS9000 M3\nG1 X5\nG1 Y5\nG0 Z5\n";
  for (const bool percent : {false, true}) {
    for (const char* end : {"M30\n", "M2\n", "M30", "M30\n%\n", "%\n", ""}) {
      if (!percent && std::string(end) == "%\n") continue;
      bool ok = false;
      const Diagnostics d = read((percent ? "%\n" : "") + text + end, Profile::shop, ok);
      EXPECT_TRUE(ok);
      const bool warned = std::any_of(d.all().begin(), d.all().end(), [&](const Diagnostic& each) {
        return each.severity == Severity::warning &&
               each.code == (percent ? "percent-missing" : "end-missing");
      });
      EXPECT_EQ(warned, std::string(end).empty()) << percent << " '" << end << "'";
    }
  }
}

TEST(ShopProfile, LengthOffsetFromTheTableOnly) {
  bool ok = false;
  read("G21 F100\nG43.1 H1\nG1 X5\nM30\n", Profile::shop, ok);
  EXPECT_TRUE(ok);
  read("G21 F100\nG43.1 Z12\nG1 X5\nM30\n", Profile::shop, ok);
  EXPECT_FALSE(ok);
}

TEST(Limits, DepthAndNumberOfCallsAndErrors) {
  bool ok = true;
  read("G21 F10\nM98 P1\nM30\nO1\nM98 P1\nM99\n", Profile::shop, ok);
  EXPECT_FALSE(ok);
  std::string many = "G21\n";
  for (int i = 0; i < 100000; ++i) many += "G77\n";
  const Diagnostics d = read(many, Profile::shop, ok);
  EXPECT_FALSE(ok);
  EXPECT_LE(d.all().size(), 200u);
  EXPECT_EQ(d.errors(), 100000u);
  read("G21 " + std::string(2000000, 'X'), Profile::shop, ok);
  EXPECT_FALSE(ok);
  read("G21 G1 F10 X" + std::string(100000, '['), Profile::shop, ok);
  EXPECT_FALSE(ok);
}

}  // namespace
}  // namespace proveout::nc
