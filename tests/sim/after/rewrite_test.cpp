// Programs rewritten with other feeds and speeds: F and S words change as the reader takes them,
// and not another byte; what one word cannot say is refused at its place; and what is written is
// held against an own reading here, through a file and the reader's quick way.
#include "sim/after/rewrite.h"

#include <gtest/gtest.h>
#include <stdlib.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>

#include "tests/sim/after/random_program.h"

namespace proveout::after {
namespace {

nc::ReadOptions options(const nc::Reads& reads = {}) {
  nc::ReadOptions o;
  o.reads = reads;
  o.tool_diameters[1] = 6;
  o.tool_diameters[2] = 4;
  return o;
}

nc::Program read(const std::string& text, const nc::Reads& reads = {}) {
  std::string folder = (std::filesystem::temp_directory_path() / "proveout-feeds-XXXXXX").string();
  EXPECT_NE(::mkdtemp(folder.data()), nullptr);
  const std::filesystem::path file = std::filesystem::path(folder) / "a.nc";
  std::ofstream(file, std::ios::binary) << text;
  Diagnostics diagnostics;
  auto program = nc::read_program(file, options(reads), diagnostics);
  std::filesystem::remove_all(folder);
  EXPECT_TRUE(program) << text << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  return program ? std::move(*program) : nc::Program{};
}

using Feed = std::function<double(const nc::Motion&)>;
using Speed = std::function<double(const nc::ModalState&)>;

struct Made {
  std::string text;  // empty: refused
  Diagnostics diagnostics;
  bool said(std::string_view code, std::uint32_t line = 0) const {
    return std::any_of(diagnostics.all().begin(), diagnostics.all().end(), [&](const auto& d) {
      return d.code == code && (line == 0 || d.place.line == line);
    });
  }
};

Made rewritten(const std::string& text, const Feed& feed, const Speed& rpm,
               const nc::Reads& reads = {}) {
  const nc::Program program = read(text, reads);
  WantedFeeds wanted;
  for (const nc::Motion& m : program.motions) {
    wanted.feed.push_back(m.kind == nc::PathKind::rapid ? 0 : feed(m));
    wanted.rpm.push_back(rpm(program.states[m.state]));
  }
  Made made;
  const auto out = rewrite(text, "a.nc", options(reads), program, wanted, made.diagnostics);
  if (out) made.text = out->text;
  return made;
}
Made rewritten(const std::string& text, double feed, double rpm) {
  return rewritten(
      text, [=](const nc::Motion&) { return feed; }, [=](const nc::ModalState&) { return rpm; });
}
double as_it_is(const nc::ModalState& s) { return s.spindle_rpm; }

TEST(Rewrite, WordsChangeAndCommentsDoNot) {
  EXPECT_EQ(rewritten("G21 G90 (F1 S2)\n"
                      "S9000 M3 ; S1 F2\n"
                      "G0 X0 Y0 Z1\n"
                      "(F900; S5) G1 X5 F100 (F7)\n"
                      "Y5\n"
                      "G1 X6 f 200 ; F9\n"
                      "M30\n",
                      350, 12000)
                .text,
            "G21 G90 (F1 S2)\n"
            "S12000 M3 ; S1 F2\n"
            "G0 X0 Y0 Z1\n"
            "(F900; S5) G1 X5 F350 (F7)\n"
            "Y5\n"
            "G1 X6 F350 ; F9\n"
            "M30\n");
}

TEST(Rewrite, AWordIsAddedWhereThereWasNone) {
  const std::string text = "G21 G90\nS900 M3\nG0 X0\nG1 X5 F100\nX6 (last)\r\nX7\r\nM30\n";
  EXPECT_EQ(rewritten(
                text, [](const nc::Motion& m) { return 100.0 * m.line; }, as_it_is)
                .text,
            "G21 G90\nS900 M3\nG0 X0\nG1 X5 F400\nX6 F500 (last)\r\nX7 F600\r\nM30\n");
}

// The same 254 mm/min in inches, per turn and as inverse time: 10 in/min; 254 / 2000 = 0.127 mm a
// turn; a move of 50.8 mm takes 0.2 min.
TEST(Rewrite, InTheUnitAndFeedModeInForce) {
  EXPECT_EQ(rewritten("G20\nS900 M3\nG1 X1 F99.5\nM2\n", 254, 900).text,
            "G20\nS900 M3\nG1 X1 F10.\nM2\n");
  EXPECT_EQ(rewritten("G21\nS900 M3\nG95 G1 X1 F.3\nM2\n", 254, 2000).text,
            "G21\nS2000 M3\nG95 G1 X1 F0.127\nM2\n");
  EXPECT_EQ(rewritten("G20\nS900 M3\nG95 G1 X1 F.01\nM2\n", 254, 2000).text,
            "G20\nS2000 M3\nG95 G1 X1 F0.005\nM2\n");
  EXPECT_EQ(rewritten("G21\nS900 M3\nG93 G1 X50.8 F9\nM2\n", 254, 900).text,
            "G21\nS900 M3\nG93 G1 X50.8 F5\nM2\n");
}

TEST(Rewrite, ParametersAndExpressionsAreWrittenOut) {
  const Made made = rewritten("#1=500\nG21\nS[#1*10] M3\nG1 X1 F#1\nX2 F[#1 / 2]\nM2\n", 320, 7000);
  EXPECT_EQ(made.text, "#1=500\nG21\nS7000 M3\nG1 X1 F320.\nX2 F320.\nM2\n");
  EXPECT_TRUE(made.said("retime-computed", 4));
  EXPECT_TRUE(made.said("retime-computed", 5));
  // One that already is what is wanted stays an expression.
  EXPECT_EQ(rewritten("#1=500\nG21\nS9 M3\nG1 X1 F#1\nM2\n", 500, 9).text,
            "#1=500\nG21\nS9 M3\nG1 X1 F#1\nM2\n");
}

TEST(Rewrite, SpeedOnALineOfItsOwnAndFeedOnARapid) {
  EXPECT_EQ(
      rewritten("G21\nS9000\nM3\nG0 X1 F800\nG1 X5\nG1 X9 F700\nF90\nX11\nM2\n", 300, 8000).text,
      "G21\nS8000\nM3\nG0 X1 F300\nG1 X5\nG1 X9 F300\nF300\nX11\nM2\n");
}

// With the operator's switch a deletable S is passed over: what is in force then is the same speed.
TEST(Rewrite, ASpeedInADeletableBlockIsSaidBeforeItToo) {
  EXPECT_EQ(
      rewritten("G21\nS9000 M3\nG0 X1\n/S5000\nG1 X5 F100\nS4000\nX6\n/S3000\n/S2000\nX7\nM2\n",
                300, 8000)
          .text,
      "G21\nS8000 M3\nG0 X1\n/S8000\nG1 X5 F300\nS8000\nX6\n/S8000\n/S8000\nX7\nM2\n");
  // Without a deletable word an S that no move uses stays as it is.
  EXPECT_EQ(rewritten("G21\nS9000 M3\nG0 X1\nS5000\nG1 X5 F100\nM2\n", 300, 8000).text,
            "G21\nS9000 M3\nG0 X1\nS8000\nG1 X5 F300\nM2\n");
}

// A sum over a line's bytes is of the bytes it had.
TEST(Rewrite, ALineWithASumOverItsBytesIsRefusedWhereItWouldChange) {
  const std::string text = "G21 *3\nS9000 M3 *71\nG1 X5 F100*12\nX6 *13\nM2\n";
  const Made made = rewritten(text, 300, 9000);
  EXPECT_TRUE(made.text.empty());
  EXPECT_TRUE(made.said("retime-check-sum", 3));
  EXPECT_FALSE(made.said("retime-check-sum", 2));
  EXPECT_FALSE(made.said("retime-disagrees"));
  const Made added = rewritten(
      text, [](const nc::Motion& m) { return m.line == 3 ? 100.0 : 90.0; }, as_it_is);
  EXPECT_TRUE(added.text.empty());
  EXPECT_TRUE(added.said("retime-check-sum", 4));
  EXPECT_EQ(rewritten(text, 100, 9000).text, text);
  EXPECT_TRUE(rewritten(text, 100, 8000).said("retime-check-sum", 2));
  // A product is no sum.
  EXPECT_EQ(rewritten("G21\nS9 M3\nG1 X5 F100 #1=2*3\nX#1\nM2\n", 300, 9).text,
            "G21\nS9 M3\nG1 X5 F300 #1=2*3\nX#1\nM2\n");
}

// A speed that an earlier tool left is said anew where the spindle starts.
TEST(Rewrite, NoToolRunsAtAnothersSpeed) {
  const std::string text =
      "G21\nT1 M6\nS9000 M3\nG1 X1 F500\nT2 M6\nM3\nG1 X2\nS4000 T1 M6\nM3\nX3\nM2\n";
  const Made made = rewritten(
      text, [](const nc::Motion& m) { return m.feed; },
      [](const nc::ModalState& s) { return s.tool == 1 ? 8000.0 : 5000.0; });
  EXPECT_EQ(made.text,
            "G21\nT1 M6\nS8000 M3\nG1 X1 F500\nT2 M6\nM3 S5000\nG1 X2\nS8000 T1 M6\nM3\nX3\nM2\n");
}

TEST(Rewrite, OneWordForTwoSpeedsIsRefused) {
  const std::string text =
      "G21\nT1 M6\nM98 P7\nT2 M6\nM98 P7\nM30\nO7\nS9000 M3\nG1 X1 F500\nX0\nM99\n";
  const Made made = rewritten(
      text, [](const nc::Motion& m) { return m.feed; },
      [](const nc::ModalState& s) { return s.tool == 1 ? 8000.0 : 5000.0; });
  EXPECT_EQ(made.text, "");
  EXPECT_TRUE(made.said("retime-speed-shared", 8));
  // Where both tools want one speed nothing is shared that may not be.
  EXPECT_NE(rewritten(text, 400, 7000).text, "");
}

TEST(Rewrite, ASubprogramUnderTwoLoadsGetsTheSlower) {
  const std::string text =
      "G21 G90\nS900 M3\nG0 Z5\nM98 P7\nG0 Z-1\nM98 P7\nM30\nO7\nG1 X9 F500\nG1 X0\nM99\n";
  const Made made = rewritten(
      text, [](const nc::Motion& m) { return m.start.z() > 0 ? 800.0 : 200.0; }, as_it_is);
  EXPECT_EQ(made.text,
            "G21 G90\nS900 M3\nG0 Z5\nM98 P7\nG0 Z-1\nM98 P7\nM30\nO7\nG1 X9 F200\nG1 X0\nM99\n");
  EXPECT_TRUE(made.said("retime-shared", 9));
  EXPECT_FALSE(made.said("retime-shared", 4));
}

TEST(Rewrite, ALineUnderTwoUnitsIsRefused) {
  const std::string text =
      "G21\nS900 M3\nM98 P7\nG20\nM98 P7\nM30\nO7\nG91\nG1 X1 F50\nX-1\nG90\nM99\n";
  EXPECT_TRUE(rewritten(text, 40, 900).said("retime-modes-shared", 9));
  // Left as it is, it may: nothing is rewritten.
  EXPECT_EQ(rewritten(
                text, [](const nc::Motion& m) { return m.feed; }, as_it_is)
                .text,
            text);
}

TEST(Rewrite, ATapKeepsItsPitch) {
  const std::string text = "G21\nT1 M6\nS500 M3\nG84 X1 Y1 Z-5 R2 F400\nG80\nM30\n";
  EXPECT_TRUE(rewritten(text, 300, 500).said("retime-tapping", 4));
  EXPECT_TRUE(rewritten(text, 400, 600).said("retime-tapping", 4));
  EXPECT_EQ(rewritten(text, 320, 400).text,
            "G21\nT1 M6\nS400 M3\nG84 X1 Y1 Z-5 R2 F320\nG80\nM30\n");
}

// With the operator's switch the block and its F are passed over: nothing behind may lean on it.
TEST(Rewrite, NoFeedHangsOnADeletableBlock) {
  EXPECT_EQ(rewritten("G21\nS9 M3\nG1 X1 F500\n/X2 F100\nX3\nX4\nM2\n", 300, 9).text,
            "G21\nS9 M3\nG1 X1 F300\n/X2 F300\nX3 F300\nX4\nM2\n");
}

TEST(Rewrite, DigitsThatDoNotReachAreRefused) {
  // 2 mm/min over 900 mm: F0.0022 a minute, which four decimals cut to 0.0022: 1 % off. Half of
  // that is 9 % off.
  EXPECT_NE(rewritten("G21\nS9 M3\nG93 G1 X900 F1\nM2\n", 2, 9).text, "");
  EXPECT_TRUE(rewritten("G21\nS9 M3\nG93 G1 X900 F1\nM2\n", 1.03, 9).said("retime-digits", 3));
}

TEST(Rewrite, WithoutSAndM3TheSpeedIsSetByHand) {
  const Made made = rewritten("G21\nG1 X1 F500\nM2\n", 300, 9000);
  EXPECT_EQ(made.text, "G21\nG1 X1 F300\nM2\n");
  EXPECT_TRUE(made.said("retime-speed-by-hand", 2));
  EXPECT_EQ(rewritten("G21\nM3\nG1 X1 F500\nM2\n", 300, 9000).text,
            "G21\nM3 S9000\nG1 X1 F300\nM2\n");
}

TEST(Rewrite, AFileThatChangedSinceIsRefused) {
  const nc::Program program = read("G21\nS9 M3\nG1 X1 F500\nM2\n");
  const WantedFeeds wanted{{300}, {9}};
  Diagnostics diagnostics;
  EXPECT_FALSE(
      rewrite("G21\nS9 M3\nG1 X2 F500\nM2\n", "a.nc", options(), program, wanted, diagnostics));
  ASSERT_EQ(diagnostics.errors(), 1u);
  EXPECT_EQ(diagnostics.all()[0].code, "retime-changed");
}

// The check must speak for every kind of slip a rewriter could make, and be silent without one.
TEST(Rewrite, ReadingBackFindsWhatDiffers) {
  const std::string text =
      "G21\nT1 M6\nS900 M3\nG0 Z1\nG1 X1 F500\nG4 P1\nM8\nG2 X3 I1\nX5 I1\nM30\n";
  const nc::Program program = read(text);
  std::vector<double> feed, rpm;
  for (const nc::Motion& m : program.motions) {
    feed.push_back(m.feed);
    rpm.push_back(900);
  }
  const auto holds = [&](const std::string& other) {
    Diagnostics diagnostics;
    const bool ok = reads_back(other, "a.nc", options(), program, feed, rpm, diagnostics);
    EXPECT_EQ(ok, !diagnostics.has_errors());
    return ok;
  };
  EXPECT_TRUE(holds(text));
  const std::pair<const char*, const char*> slips[] = {
      {"F500", "F501"},    {"S900", "S901"},      {"X1 ", "X1.001 "}, {"P1", "P2"},
      {"M8", "M7"},        {"G2 ", "G3 "},        {"T1 ", "T2 "},     {"Z1", "Z2"},
      {"M3\n", "M4\n"},    {"X5 I1", "X5 I1 F9"}, {"G21", "G20"},     {"M8\n", "\n"},
      {"X3 I1", "X3 I1 E"}};
  for (const auto& [from, to] : slips) {
    std::string other = text;
    other.replace(other.find(from), std::string(from).size(), to);
    EXPECT_FALSE(holds(other)) << from << " -> " << to;
  }
}

// 500 random programs over units, feed modes, subprograms, cycles, parameters, deletable blocks,
// with random feeds for their motions. What is written, read here through a file: the same path, no
// feed above the one wanted, none further below it than the slowest motion of its line and the last
// digit make it, each tool at its speed; and nothing but F and S words differs.
void random_programs_read_back(unsigned first, unsigned last, const nc::Reads& reads,
                               int& refused) {
  for (unsigned seed = first; seed <= last; ++seed) {
    const std::string text = random_nc(seed);
    SCOPED_TRACE(testing::Message() << "seed " << seed << "\n" << text);
    const nc::Program program = read(text, reads);
    std::mt19937 random(7919UL * seed);
    std::uniform_real_distribution<double> factor(-2, 2);
    WantedFeeds wanted;
    // The least wanted on a line: mm/min, or mm a turn where that is what F says.
    std::map<std::uint32_t, double> least;
    const bool per_turn = text.find("G95") != std::string::npos;
    const auto as_said = [&](double feed, std::size_t i) {
      return per_turn ? feed / wanted.rpm[i] : feed;
    };
    for (const nc::Motion& m : program.motions) {
      const bool cuts = m.kind != nc::PathKind::rapid;
      const bool changes = random() % 4 != 0;
      wanted.feed.push_back(cuts ? m.feed * (changes ? std::exp(factor(random)) : 1) : 0);
      const nc::ModalState& s = program.states[m.state];
      wanted.rpm.push_back(s.tool == 1 ? 7000 : 11000);
      if (!cuts) continue;
      const double said = as_said(wanted.feed.back(), wanted.feed.size() - 1);
      const auto [place, is_new] = least.try_emplace(m.line, said);
      if (!is_new) place->second = std::min(place->second, said);
    }
    Diagnostics diagnostics;
    const auto made = rewrite(text, "a.nc", options(reads), program, wanted, diagnostics);
    if (!made) {
      for (const Diagnostic& d : diagnostics.all()) {
        EXPECT_NE(d.code, "retime-disagrees") << to_text(d);
        EXPECT_NE(d.code, "retime-changed") << to_text(d);
      }
      ++refused;
      continue;
    }
    SCOPED_TRACE(made->text);
    const nc::Program again = read(made->text, reads);
    ASSERT_EQ(again.motions.size(), program.motions.size());
    for (std::size_t i = 0; i < program.motions.size(); ++i) {
      const nc::Motion &m = program.motions[i], &n = again.motions[i];
      EXPECT_EQ(m.kind, n.kind);
      EXPECT_EQ(m.end, n.end);
      EXPECT_EQ(m.centre, n.centre);
      EXPECT_EQ(m.sweep, n.sweep);
      if (m.kind == nc::PathKind::rapid) continue;
      EXPECT_LE(n.feed, wanted.feed[i] * (1 + 1e-9)) << "line " << m.line;
      EXPECT_GE(as_said(n.feed, i), 0.98 * least.at(m.line)) << "line " << m.line;
      EXPECT_EQ(again.states[n.state].spindle_rpm, wanted.rpm[i]) << "line " << m.line;
    }
    EXPECT_EQ(without_feeds(text), without_feeds(made->text));
  }
}

TEST(Rewrite, RandomProgramsReadBack) {
  int refused = 0;
  random_programs_read_back(1, 500, {}, refused);
  EXPECT_LT(refused, 50);  // most can be written: else the property holds of little
}

nc::Reads feeds(std::string_view word) {
  nc::Reads reads;
  reads.declare(nc::Read::feeds_without_point, word);
  return reads;
}

TEST(Rewrite, RandomProgramsReadBackWhereFeedsAreSteps) {
  int refused = 0;
  random_programs_read_back(501, 620, feeds("feed-increment"), refused);
  random_programs_read_back(621, 740, feeds("least-increment"), refused);
  // Feeds of thousandths are more than digits can say in the programs per turn.
  EXPECT_LT(refused, 120);
}

// What is written has its point wherever a control may take a whole number for steps: then every
// reading of it is the feed that was wanted. In mm/min a program without points keeps its way.
TEST(Rewrite, FeedsAreWrittenSoThatEveryControlReadsThemAlike) {
  struct Row {
    const char *text, *choice;
    double feed;
    const char* made;
  };
  for (const Row& row : {
           Row{"G20\nS9 M3\nG1 X1. F9950\nM2\n", "feed-increment", 254, "G1 X1. F10."},
           Row{"G20\nS9 M3\nG1 X1. F40\nM2\n", "whole-units", 254, "G1 X1. F10."},
           Row{"G21\nS9 M3\nG1 X1. F300000\nM2\n", "least-increment", 320, "G1 X1. F320."},
           Row{"G21\nS9 M3\nG1 X1. F300\nM2\n", "feed-increment", 320, "G1 X1. F320."},
           Row{"G21\nS9 M3\nG95 G1 X1. F20\nM2\n", "feed-increment", 9, "G95 G1 X1. F1."},
           Row{"G21\nS9 M3\nG1 X1. F300\nM2\n", "whole-units", 320, "G1 X1. F320\n"},
           Row{"G21\nS9 M3\nG1 X1. F300.\nM2\n", "whole-units", 320, "G1 X1. F320.\n"},
           Row{"G21\nS9 M3\nG1 X1. F[300]\nM2\n", "whole-units", 320, "G1 X1. F320.\n"},
       }) {
    const nc::Reads reads = feeds(row.choice);
    const Made made = rewritten(
        row.text, [&](const nc::Motion&) { return row.feed; }, as_it_is, reads);
    EXPECT_NE(made.text.find(row.made), std::string::npos) << row.text << made.text;
    if (std::string_view(row.made).back() != '.') continue;
    for (const char* other : {"whole-units", "feed-increment", "least-increment"}) {
      const nc::Program again = read(made.text, feeds(other));
      ASSERT_FALSE(again.motions.empty());
      EXPECT_NEAR(again.motions.back().feed, row.feed, 1e-9) << made.text << other;
    }
  }
  // A word that is added has the point that the program's own words have.
  const auto two = [](const nc::Motion& m) { return m.line == 3 ? 300.0 : 400.0; };
  EXPECT_EQ(rewritten("G21\nS9 M3\nG1 X1. F500\nX2.\nM2\n", two, as_it_is).text,
            "G21\nS9 M3\nG1 X1. F300\nX2. F400\nM2\n");
  EXPECT_EQ(rewritten("G21\nS9 M3\nG1 X1. F500.\nX2.\nM2\n", two, as_it_is).text,
            "G21\nS9 M3\nG1 X1. F300.\nX2. F400.\nM2\n");
}

}  // namespace
}  // namespace proveout::after
