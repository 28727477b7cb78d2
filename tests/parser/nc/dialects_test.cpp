// Where controls read the same word differently: each choice of [machine.reads] both ways, by the
// arithmetic its definition gives; what stands in for a choice nobody declared is named with its
// line, and only where the program depends on it. Common practice, no source, where nothing else is
// named.
#include <gtest/gtest.h>

#include <cmath>

#include "parser/nc/difference.h"
#include "reading.h"

namespace proveout::nc {
namespace {

const std::string head = "G21 G90 G17 F100 S500 M3\nG0 Z10\n";

double waited(const std::string& block, const ReadOptions& options) {
  const Reading r = read(head + block + "\nG0 X9\nM30\n", options);
  EXPECT_TRUE(r.ok) << block << r.said();
  double sum = 0;
  for (const Event& e : r.heard.events) {
    if (e.kind == EventKind::dwell) sum += e.value;
  }
  return sum;
}

bool assumes(const Reading& r, Read which, std::uint32_t line) {
  for (const Assumption& a : r.assumed) {
    if (a.which == which) return a.line == line;
  }
  return false;
}

TEST(Dialects, UnitOfPInWaits) {
  EXPECT_DOUBLE_EQ(waited("G4 P1.5", reading({})), 1.5);
  EXPECT_DOUBLE_EQ(waited("G4 P1500", reading({{Read::wait_p, "milliseconds"}})), 1.5);
  EXPECT_DOUBLE_EQ(waited("G4 P1500.", reading({{Read::wait_p, "milliseconds"}})), 1.5);
  EXPECT_DOUBLE_EQ(waited("G4 P1500", reading({{Read::wait_p, "by-point"}})), 1.5);
  EXPECT_DOUBLE_EQ(waited("G4 P1.5", reading({{Read::wait_p, "by-point"}})), 1.5);
}

TEST(Dialects, UnitOfPInCycles) {
  const std::string hole = "G82 X1 Z-1 R2 P";
  EXPECT_DOUBLE_EQ(waited(hole + "0.5", reading({})), 0.5);
  EXPECT_DOUBLE_EQ(waited(hole + "500", reading({{Read::cycle_p, "milliseconds"}})), 0.5);
  EXPECT_DOUBLE_EQ(waited(hole + "500", reading({{Read::cycle_p, "by-point"}})), 0.5);
  EXPECT_DOUBLE_EQ(waited(hole + "0.5", reading({{Read::cycle_p, "by-point"}})), 0.5);
}

TEST(Dialects, AxisWordsBehindG80) {
  const std::string text = head + "G1 X1\nG81 X2 Z-1 R2\nG80\nX5 Z3\nM30\n";
  const Reading refused = read(text, reading({}));
  EXPECT_FALSE(refused.ok);
  EXPECT_NE(refused.of("axis-words-idle"), nullptr);
  const Reading followed = read(text, reading({{Read::cycles, "own-group"}}));
  ASSERT_TRUE(followed.ok) << followed.said();
  EXPECT_EQ(followed.moves().back().kind, PathKind::line);
  EXPECT_EQ(followed.moves().back().end, Vec3(5, 0, 3));
}

// In at the feed from R 2 to -8, out by the choice, the old level 10: 10 mm at the feed and 8 by a
// rapid, or 18 at the feed.
TEST(Dialects, TheWayOutOfTappingAndBoring) {
  for (const char* code : {"G84", "G85", "G89 P0"}) {
    const std::string text = head + code + " X0 Z-8 R2\nM30\n";
    const Reading to_r = read(text, reading({}));
    const Reading all = read(text, reading({{Read::boring_retract, "feed-all-the-way"}}));
    ASSERT_TRUE(to_r.ok && all.ok) << code << to_r.said();
    double feed[2] = {0, 0};
    for (const Motion& m : to_r.moves()) feed[0] += m.kind == PathKind::line ? length(m) : 0;
    for (const Motion& m : all.moves()) feed[1] += m.kind == PathKind::line ? length(m) : 0;
    EXPECT_NEAR(feed[0], 10 + 10, 1e-9) << code;
    EXPECT_NEAR(feed[1], 10 + 18, 1e-9) << code;
    EXPECT_NEAR(to_r.moves().back().end.z(), 10, 1e-12);
    EXPECT_TRUE(assumes(to_r, Read::boring_retract, 3)) << code;
    EXPECT_TRUE(all.assumed.empty());
    // Under G99 both are one: nothing is assumed.
    EXPECT_TRUE(read(head + "G99 " + code + " X0 Z-8 R2\nM30\n", reading({})).assumed.empty());
  }
}

int holes(const Reading& r) {
  int n = 0;
  for (const Motion& m : r.moves()) n += m.kind == PathKind::line && m.end.z() < m.start.z();
  return n;
}

TEST(Dialects, RepeatsOfCyclesByLOrK) {
  const std::string by_k = head + "G91 G81 X3 Z-3 R-8 K4\nM30\n";
  const std::string by_l = head + "G91 G81 X3 Z-3 R-8 L4\nM30\n";
  EXPECT_EQ(holes(read(by_k, reading({}))), 4);
  EXPECT_EQ(holes(read(by_l, reading({}))), 4);
  EXPECT_TRUE(assumes(read(by_k, reading({})), Read::cycle_repeats, 3));
  EXPECT_FALSE(read(by_k, reading({{Read::cycle_repeats, "l"}})).ok);
  EXPECT_FALSE(read(by_l, reading({{Read::cycle_repeats, "k"}})).ok);
  EXPECT_EQ(holes(read(by_k, reading({{Read::cycle_repeats, "k"}}))), 4);
  // 0 keeps the words for the holes behind it.
  for (const char* none : {"K0", "L0"}) {
    const Reading r = read(head + "G81 Z-1 R2 " + none + "\nX1\nX2\nM30\n", reading({}));
    ASSERT_TRUE(r.ok) << r.said();
    EXPECT_EQ(holes(r), 2) << none;
    EXPECT_NE(r.of("cycle-stored"), nullptr);
  }
}

// R 2 and Z -1 given by G90 stay where they are for the holes by increments behind them; by the
// report's letter (3.5.16) the numbers count again from where the tool is.
TEST(Dialects, LevelsOfACycleBehindG91) {
  const std::string text = head + "G99 G81 X0 Y0 Z-1 R2\nG91 X20 L3\nM30\n";
  const Reading kept = read(text, reading({{Read::cycle_repeats, "l-or-k"}}));
  ASSERT_TRUE(kept.ok) << kept.said();
  EXPECT_EQ(holes(kept), 4);
  for (const Motion& m : kept.moves()) {
    if (m.kind == PathKind::line) {
      EXPECT_NEAR(m.end.z(), -1, 1e-12);
    }
  }
  EXPECT_NEAR(kept.moves().back().end.x(), 60, 1e-12);
  EXPECT_TRUE(assumes(kept, Read::cycle_levels, 4));
  const Reading again = read(text, reading({{Read::cycle_levels, "each-block"}}));
  ASSERT_TRUE(again.ok);
  // From R 2 up by 2 to 4, and 1 down from there.
  EXPECT_NEAR(again.moves().back().end.z(), 4, 1e-12);
  EXPECT_TRUE(read(head + "G99 G81 X0 Y0 Z-1 R2\nX20\nM30\n", reading({})).assumed.empty());
}

TEST(Dialects, HomeWithoutAxes) {
  const std::string text = head + "G1 X5 Y5 Z5\nG28\nM30\n";
  const Reading all = read(text, reading({}));
  ASSERT_TRUE(all.ok);
  EXPECT_EQ(all.moves().back().end, Vec3(0, 0, 0));
  EXPECT_TRUE(assumes(all, Read::home_without_axes, 4));
  const Reading none = read(text, reading({{Read::home_without_axes, "none"}}));
  EXPECT_EQ(none.moves().back().end, Vec3(5, 5, 5));
  EXPECT_FALSE(read(text, reading({{Read::home_without_axes, "refuse"}})).ok);
}

// A corner of two lines at right angles: the round takes R off each and is an arc of R a quarter
// turn long; the chamfer takes C off each.
TEST(Dialects, CornersRoundedAndChamfered) {
  const Reading round = read(head + "G1 X0 Y0\nG1 X20 ,R3\nY15\nM30\n", reading({}));
  ASSERT_TRUE(round.ok) << round.said();
  auto m = round.moves();
  ASSERT_EQ(m.size(), 4u);
  EXPECT_LT((m[1].end - Vec3(17, 0, 10)).norm(), 1e-12);
  EXPECT_EQ(m[2].kind, PathKind::arc);
  EXPECT_LT((m[2].centre - Vec3(17, 3, 10)).norm(), 1e-12);
  EXPECT_NEAR(m[2].sweep, pi / 2, 1e-12);
  EXPECT_LT((m[3].start - Vec3(20, 3, 10)).norm(), 1e-12);
  EXPECT_TRUE(assumes(round, Read::corners, 4));
  m = read(head + "G1 X0 Y0\nG1 X20 ,C3\nY-15\nM30\n", reading({})).moves();
  ASSERT_EQ(m.size(), 4u);
  EXPECT_LT((m[2].end - Vec3(20, -3, 10)).norm(), 1e-12);
  const auto plain =
      read(head + "G1 X0 Y0\nG1 X20 R3\nY15\nM30\n", reading({{Read::corners, "plain"}}));
  ASSERT_TRUE(plain.ok) << plain.said();
  EXPECT_NEAR(plain.moves()[2].sweep, pi / 2, 1e-12);
  // Any angle: the arc is tangent to both lines.
  for (int degrees = -170; degrees <= 170; degrees += 10) {
    if (degrees == 0) continue;
    const double a = degrees / deg_per_rad;
    const Reading r = read(head + fmt::format("G1 X40 ,R1.5\nX{:.12f} Y{:.12f}\nM30\n",
                                              40 + 30 * std::cos(a), 30 * std::sin(a)),
                           reading({}));
    ASSERT_TRUE(r.ok) << degrees << r.said();
    const auto p = r.moves();
    ASSERT_EQ(p.size(), 4u) << degrees;
    for (std::size_t k = 2; k < p.size(); ++k) {
      EXPECT_LT((p[k].start - p[k - 1].end).norm(), 1e-9) << degrees;
      EXPECT_LT((tangent_at(p[k], 0) - tangent_at(p[k - 1], 1)).norm(), 1e-6) << degrees;
    }
    EXPECT_NEAR(arc_radius(p[2]), 1.5, 1e-9);
  }
  for (const char* wrong : {"G1 X20 ,R3\nG2 X25 Y5 R5\n", "G1 X20 ,R3\nM30\n",
                            "G1 X20 ,R3\nX20.5 Y.5\n", "G1 X20 ,R3\nZ5\n", "G1 X20 ,R3\nX0\n",
                            "G1 X20 ,R3\nM0\nY9\n", "G1 X20 ,R-1\nY9\n", "G1 X20 ,A45\n"}) {
    EXPECT_FALSE(read(head + "G1 X0 Y0\n" + wrong + "M30\n", reading({})).ok) << wrong;
  }
  EXPECT_FALSE(read(head + "G1 X20 ,R3\nY9\nM30\n", reading({{Read::corners, "refuse"}})).ok);
}

TEST(Dialects, G70AsInchOrAsHolesOnACircle) {
  const Reading inch = read("G70 G90 F10\nG1 X1\nG71 X50.8\nM30\n", reading({{Read::g70, "inch"}}));
  ASSERT_TRUE(inch.ok) << inch.said();
  EXPECT_NEAR(inch.moves()[0].end.x(), 25.4, 1e-9);
  EXPECT_NEAR(inch.moves()[1].end.x(), 50.8, 1e-9);
  const Reading circle = read(head + "G0 X50 Y40\nG81 Z-1 R2 K0\nG70 I20 J30 L6\nM30\n",
                              reading({{Read::g70, "bolt-circle"}}));
  ASSERT_TRUE(circle.ok) << circle.said();
  ASSERT_EQ(holes(circle), 6);
  int k = 0;
  for (const Motion& m : circle.moves()) {
    if (m.kind != PathKind::line) continue;
    const double a = (30 + 60 * k++) / deg_per_rad;
    EXPECT_LT((m.end - Vec3(50 + 20 * std::cos(a), 40 + 20 * std::sin(a), -1)).norm(), 1e-9);
  }
}

TEST(Dialects, G51FactorsInThousandths) {
  const std::string text = head + "G51 X0 Y0 Z0 P2000\nG1 X3\nM30\n";
  const Reading factor = read(text, reading({}));
  EXPECT_FALSE(factor.ok);  // a factor of 2000
  const Reading r = read(text, reading({{Read::scale_p, "thousandths"}}));
  ASSERT_TRUE(r.ok) << r.said();
  EXPECT_NEAR(r.moves().back().end.x(), 6, 1e-12);
}

TEST(Dialects, G10SetsDiametersAsTheChoiceSays) {
  const std::string text =
      "G21 G90 F100\nT1 M6\nG10 L12 P1 R5\nG1 X-20 Y10\nG41 D1 X0 Y0\nX20\nX30\nM30\n";
  EXPECT_FALSE(read(text, reading({})).ok);
  for (const auto& [word, beside] : {std::pair{"diameter", 2.5}, {"radius", 5.0}}) {
    const Reading r = read(text, reading({{Read::g10_diameter, word}}));
    ASSERT_TRUE(r.ok) << r.said();
    EXPECT_NEAR(r.moves().back().end.y(), beside, 1e-9) << word;
    EXPECT_NE(r.of("diameter-offset-set"), nullptr);
  }
}

TEST(Dialects, G10L20) {
  const std::string text = head + "G1 X30 Y20\nG10 L20 P2 X5 Y5\nG55 X0 Y0\nM30\n";
  const Reading here = read(text, reading({}));
  ASSERT_TRUE(here.ok);
  EXPECT_LT((here.moves().back().end - Vec3(25, 15, 10)).norm(), 1e-9);
  ReadOptions options = reading({{Read::g10_l20, "further-offsets"}});
  options.zero_in_machine = Vec3(-100, -100, -100);
  const Reading further =
      read(head + "G10 L20 P7 X-90 Y-95 Z-100\nG54.1 P7 G1 X1 Y0 Z0\nM30\n", options);
  ASSERT_TRUE(further.ok) << further.said();
  EXPECT_LT((further.moves().back().end - Vec3(11, 5, 0)).norm(), 1e-9);
}

TEST(Dialects, FurtherCodesThatMoveNothing) {
  EXPECT_FALSE(read(head + "M88\nG1 X5\nM30\n", reading({})).ok);
  ReadOptions options = reading({});
  options.reads.m_without_motion = {88};
  const Reading r = read(head + "M88\nG1 X5\nM30\n", options);
  EXPECT_TRUE(r.ok);
  EXPECT_NE(r.of("m-code-ignored"), nullptr);
}

// A choice that was declared is none that is assumed.
TEST(Dialects, WhatIsDeclaredIsNotAssumed) {
  EXPECT_TRUE(assumes(read(head + "G4 P2\nG1 X5\nM30\n", reading({})), Read::wait_p, 3));
  EXPECT_TRUE(
      read(head + "G4 P2\nG1 X5\nM30\n", reading({{Read::wait_p, "seconds"}})).assumed.empty());
  EXPECT_TRUE(read(head + "G4 P0\nG1 X5\nM30\n", reading({})).assumed.empty());
}

// Every choice is declared by its own words alone, and the first is the default.
TEST(Dialects, WordsOfEachChoice) {
  for (const ReadChoice& choice : read_choices()) {
    Reads reads;
    EXPECT_TRUE(reads.is(choice.which, choice.words[0]));
    EXPECT_FALSE(reads.declared(choice.which));
    EXPECT_FALSE(reads.declare(choice.which, ""));
    EXPECT_FALSE(reads.declare(choice.which, "furlong"));
    for (const std::string_view word : choice.words) {
      if (word.empty()) continue;
      EXPECT_TRUE(reads.declare(choice.which, word));
      EXPECT_EQ(reads.chosen(choice.which), word);
    }
  }
}

// Extents by hand: of cutting moves, and of what the program names; the assumed start is neither.
TEST(Totals, ExtentsLeaveTheAssumedStartOut) {
  ReadOptions options = reading({});
  options.start = Vec3(-500, -400, 300);
  Statistics totals;
  Diagnostics d;
  ASSERT_TRUE(interpret("G21 G90 F100\nG0 X10\nG0 Y5\nG1 Z-2\nX30\nG3 Y15 J5\nG0 Z20\nX-7\nM30\n",
                        "t.nc", options, totals, d));
  EXPECT_EQ(totals.cutting.low, Vec3(10, 5, -2));
  EXPECT_NEAR(totals.cutting.high.x(), 35, 1e-9);
  EXPECT_NEAR(totals.cutting.high.y(), 15, 1e-9);
  EXPECT_EQ(totals.cutting.high.z(), -2);
  EXPECT_EQ(totals.programmed.low, Vec3(-7, 5, -2));
  EXPECT_NEAR(totals.programmed.high.x(), 35, 1e-9);
  EXPECT_EQ(totals.programmed.high.z(), 20);
  Statistics none;
  ASSERT_TRUE(interpret("G21 G90\nG0 X10\nM30\n", "t.nc", options, none, d));
  EXPECT_FALSE(none.programmed.has(2));
  EXPECT_FALSE(none.cutting.has(0));
}

// Where the program begins at the assumed start its first words move nothing, and count: by the
// full reader and the quick way.
TEST(Totals, APlaceThatIsTheAssumedStartCountsWhereItIsNamed) {
  for (const bool quick : {true, false}) {
    ReadOptions options = reading({});
    options.quick = quick;
    Statistics totals;
    Diagnostics d;
    ASSERT_TRUE(interpret("G21 G90 F100\nG0 X0 Z5\nG1 Z-1\nX30\nG2 X40 Y10 J10\nG0 Z5\nM30\n",
                          "t.nc", options, totals, d));
    EXPECT_EQ(totals.programmed.low.x(), 0);
    EXPECT_EQ(totals.cutting.low.x(), 0);
    EXPECT_EQ(totals.cutting.low.z(), -1);
    EXPECT_EQ(totals.programmed.high.z(), 5);
    Statistics centred;
    ASSERT_TRUE(
        interpret("G21 G90 F100\nG1 Y0\nX5 Y-3\nX0 Y0\nM30\n", "t.nc", options, centred, d));
    EXPECT_EQ(centred.cutting.low, Vec3(0, -3, centred.cutting.low.z()));
    EXPECT_EQ(centred.cutting.high.y(), 0);
  }
}

// D and H of the control's table, with wear; and of another tool.
TEST(Dialects, TablesOfDAndH) {
  const std::string cut = "G21 G90 F100\nT1 M6\nG1 X-20 Y10\nG41 {} X0 Y0\nX20\nX30\nM30\n";
  const auto beside = [&](const char* d, const ReadOptions& o) {
    const Reading r = read(fmt::format(fmt::runtime(cut), d), o);
    EXPECT_TRUE(r.ok) << r.said();
    return r.moves().back().end.y();
  };
  ReadOptions o = reading({});
  EXPECT_NEAR(beside("D1", o), 3, 1e-9);
  EXPECT_NEAR(beside("", o), 3, 1e-9);
  o.offsets_d[1].wear = -0.2;
  EXPECT_NEAR(beside("D1", o), 2.9, 1e-9);
  o.offsets_d[21] = {1, 5.0, 0};
  EXPECT_NEAR(beside("D21", o), 2.5, 1e-9);
  EXPECT_EQ(read(fmt::format(fmt::runtime(cut), "D21"), o).of("diameter-offset-other-tool"),
            nullptr);
  EXPECT_NEAR(beside("D2", o), 4, 1e-9);
  EXPECT_NE(read(fmt::format(fmt::runtime(cut), "D2"), o).of("diameter-offset-other-tool"),
            nullptr);
  // A D beside H at the tool's change holds for a G41 without one.
  EXPECT_NEAR(read("G21 G90 F100\nT1 M6\nG43 H1 D2 Z5\nG1 X-20 Y10\nG41 X0 Y0\nX20\nX30\nM30\n", o)
                  .moves()
                  .back()
                  .end.y(),
              4, 1e-9);
  // Wear of a length lifts the tip by as much.
  o.offsets_h[1].wear = 0.05;
  const Reading worn = read("G21 G90 F100\nT1 M6\nG43 H1\nG1 Z-1\nG49\nZ-1\nM30\n", o);
  ASSERT_TRUE(worn.ok);
  EXPECT_NEAR(worn.moves()[0].end.z(), -0.95, 1e-12);
  EXPECT_NEAR(worn.moves()[1].end.z(), -1, 1e-12);
}

}  // namespace
}  // namespace proveout::nc
