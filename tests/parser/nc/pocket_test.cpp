// G12 and G13 against what they must be whatever way a control takes in and out: closed lengths of
// circles and half circles, joints without a corner, nothing beyond the last circle. Common
// practice, from memory, no source.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "reading.h"

namespace proveout::nc {
namespace {

const std::string head = "G21 G90 G17 G94 F100 S500 M3 T1 M6\nG0 X20 Y30 Z5\n";

// Direction at a fraction of an arc in the xy plane: square to its radius.
Vec3 direction(const Motion& m, double fraction) {
  const Vec3 r = point_at(m, fraction) - m.centre;
  const Vec3 left(-r.y(), r.x(), 0);
  return (m.sweep > 0 ? left : Vec3(-left)).normalized();
}

std::vector<Motion> arcs_of(const Reading& r) {
  std::vector<Motion> out;
  for (const Motion& m : r.moves()) {
    if (m.kind == PathKind::arc) out.push_back(m);
  }
  return out;
}

TEST(Pockets, OneCircleByHand) {
  const Reading r = read(head + "G13 I10 D1 Z-2 F80\nM30\n", reading({}));
  ASSERT_TRUE(r.ok) << r.said();
  EXPECT_NE(r.of("pocket-way-in"), nullptr);
  const auto moves = r.moves();
  ASSERT_EQ(moves.size(), 5u);
  EXPECT_EQ(moves[1].kind, PathKind::line);
  EXPECT_EQ(moves[1].end, Vec3(20, 30, -2));
  // D1 is a tool of 6 mm: its centre goes round at 7 mm.
  EXPECT_NEAR(length(moves[2]), 3.5 * pi, 1e-9);
  EXPECT_NEAR(length(moves[3]), 14 * pi, 1e-9);
  EXPECT_NEAR(length(moves[4]), 3.5 * pi, 1e-9);
  EXPECT_LT((moves[3].centre - Vec3(20, 30, -2)).norm(), 1e-9);
  EXPECT_LT((moves[4].end - Vec3(20, 30, -2)).norm(), 1e-9);
  for (std::size_t k = 2; k < 5; ++k) {
    EXPECT_GT(moves[k].sweep, 0);
    EXPECT_EQ(moves[k].feed, 80);
  }
  const auto other = arcs_of(read(head + "G12 I10 D1 Z-2 F80\nM30\n", reading({})));
  ASSERT_EQ(other.size(), 3u);
  for (std::size_t k = 0; k < 3; ++k) EXPECT_EQ(other[k].sweep, -moves[k + 2].sweep);
}

TEST(Pockets, RandomOnesAreRoundAndEndWhereTheyBegan) {
  std::mt19937 random(5);
  const auto draw = [&](double low, double high) {
    return std::round(std::uniform_real_distribution<double>(low, high)(random) * 1000) / 1000;
  };
  for (int seed = 0; seed < 300; ++seed) {
    const bool inch = seed % 2 == 1, turned = seed % 3 == 0, several = seed % 5 != 0;
    const double unit = inch ? 25.4 : 1;
    const double tool = 0.2 + 0.3 * draw(0, 1), first = draw(0.6, 3), step = draw(0.05, 2);
    const double last = several ? first + draw(0.01, 5) : first;
    ReadOptions options = reading({});
    options.tool_diameters = {{7, tool * unit}};
    std::string text =
        inch ? "G20 G90 F9 S500 M3\nG0 X1 Y2 Z3\n" : "G21 G90 F99 S500 M3\nG0 X1 Y2\n";
    if (turned) text += "G68 X0 Y0 R33\n";
    text += fmt::format("G0 X{} Y{}\n", draw(-9, 9), draw(-9, 9));
    text += fmt::format("{} I{:.3f} D7", seed % 7 < 3 ? "G12" : "G13", first);
    if (several) text += fmt::format(" K{:.3f} Q{:.3f}", last, step);
    const Reading r = read(text + "\nM30\n", options);
    ASSERT_TRUE(r.ok) << text << r.said();
    const auto arcs = arcs_of(r);
    const Vec3 centre = arcs.front().start;
    const double inner = (first - tool / 2) * unit, outer = (last - tool / 2) * unit;
    const auto circles = static_cast<std::size_t>(1 + std::ceil((last - first) / step - 1e-9));
    ASSERT_EQ(arcs.size(), 2 * circles + 1) << text;
    double expected = 0, sum = 0, before = 0;
    for (std::size_t k = 0; k < circles; ++k) {
      const double radius = std::min(outer, inner + static_cast<double>(k) * step * unit);
      expected += 2 * pi * radius + pi * (before + radius) / 2;
      before = radius;
    }
    expected += pi * before / 2;
    for (std::size_t k = 0; k < arcs.size(); ++k) {
      sum += length(arcs[k]);
      for (int f = 0; f <= 8; ++f)
        EXPECT_LT((point_at(arcs[k], f / 8.0) - centre).norm(), outer + 1e-9) << text;
      if (k == 0) continue;
      EXPECT_LT((arcs[k].start - arcs[k - 1].end).norm(), 1e-9) << text;
      EXPECT_LT((direction(arcs[k], 0) - direction(arcs[k - 1], 1)).norm(), 1e-7) << text;
    }
    EXPECT_NEAR(sum, expected, 1e-9 * expected) << text;
    EXPECT_LT((arcs.back().end - centre).norm(), 1e-9) << text;
  }
}

TEST(Pockets, DeeperByIncrements) {
  const Reading r = read(head + "G91 G13 I10 D1 Z-2 L3\nG90 G0 Z9\nM30\n", reading({}));
  ASSERT_TRUE(r.ok) << r.said();
  std::vector<double> levels;
  for (const Motion& m : arcs_of(r)) levels.push_back(m.end.z());
  EXPECT_EQ(levels, (std::vector<double>{3, 3, 3, 1, 1, 1, -1, -1, -1}));
}

TEST(Pockets, WhatCannotBeFollowedIsRefused) {
  for (const char* block : {"G13 D1",
                            "G13 I10",
                            "G13 I3 D1",
                            "G13 I2 D1",
                            "G13 I10 K12 D1",
                            "G13 I10 Q1 D1",
                            "G13 I10 K9 Q1 D1",
                            "G13 I10 K12 Q0 D1",
                            "G13 I10 K12 Q-1 D1",
                            "G13 I10 K90 Q0.001 D1",
                            "G13 I10 D9",
                            "G13 I10 D1 L0",
                            "G13 I10 D1 L1.5",
                            "G13 I10 D1 X5",
                            "G18 G13 I10 D1",
                            "G93 G13 I10 D1 F5",
                            "G51 P2.\nG13 I10 D1",
                            "G51.1 X0\nG13 I10 D1",
                            "G41 D1\nG13 I10",
                            "G12 G13 I10 D1"}) {
    EXPECT_FALSE(read(head + block + "\nM30\n", reading({})).ok) << block;
  }
  ReadOptions strict = reading({});
  strict.profile = Profile::strict;
  EXPECT_NE(read("G21 G90 F9\nG1 X1\nG13 I10\nM30\n", strict).of("g-code-unknown"), nullptr);
  EXPECT_TRUE(read(head + "G13 I3.01 D1\nM30\n", reading({})).ok);
  // Words it does not read are told of.
  EXPECT_NE(read(head + "G13 I9 D1 R3\nM30\n", reading({})).of("word-idle"), nullptr);
}

}  // namespace
}  // namespace proveout::nc
