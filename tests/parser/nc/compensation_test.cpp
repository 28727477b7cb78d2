// Cutter compensation in the shop profile, against what a parallel curve is: the tool's centre
// stays at the tool's radius from the contour, touches every part of it and never comes nearer. And
// what cannot be followed is refused at its line.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

constexpr double radius = 3;

struct Keep : Sink {
  std::vector<Motion> motions;
  void motion(const Motion& m, const ModalState&) override {
    if (length(m) > 0) motions.push_back(m);
  }
  void event(const Event&, const ModalState&) override {}
};

ReadOptions options() {
  ReadOptions o;
  o.tool_diameters = {{1, 2 * radius}, {2, -2 * radius}};
  return o;
}

std::vector<Motion> read(const std::string& text) {
  Keep keep;
  Diagnostics d;
  EXPECT_TRUE(interpret(text, "test.nc", options(), keep, d)) << text;
  for (const auto& x : d.all()) EXPECT_NE(x.severity, Severity::error) << to_text(x);
  return keep.motions;
}

std::vector<Vec3> places(const std::vector<Motion>& motions, double apart) {
  std::vector<Vec3> out;
  for (const Motion& m : motions) {
    const int n = static_cast<int>(length(m) / apart) + 1;
    for (int k = 0; k <= n; ++k) out.push_back(point_at(m, static_cast<double>(k) / n));
  }
  return out;
}

double away(const Vec3& p, const std::vector<Vec3>& from) {
  double least = 1e9;
  for (const Vec3& q : from) least = std::min(least, (p - q).head<2>().norm());
  return least;
}

struct Contour {
  const char *what, *blocks;
};

// head: to where the tool stands off the contour. blocks: from the first contour point on.
void expect_parallel(const Contour& c, const std::string& head, const std::string& side,
                     const std::string& entry) {
  const std::string begin = "G21 G90 G17 G64 F100\nG1 " + head + "\n";
  const auto programmed = read(begin + entry + c.blocks + "M30\n");
  const auto made = read(begin + side + " D1\n" + entry + c.blocks + "G40\nM30\n");
  // Without the way to the contour: the first two motions.
  const std::vector<Motion> contour(programmed.begin() + 2, programmed.end());
  const std::vector<Motion> path(made.begin() + 2, made.end());
  const double apart = 0.01;
  const auto on_contour = places(contour, apart);
  // A place between two samples is told too far by at most apart^2 / 8 / radius.
  const double hair = 1e-5;
  for (const Vec3& p : places(path, 0.05)) {
    const double d = away(p, on_contour);
    EXPECT_GT(d, radius - 1e-9) << c.what << " at " << p.transpose();
    EXPECT_LT(d, radius + hair) << c.what << " at " << p.transpose();
  }
  for (std::size_t k = 1; k < path.size(); ++k)
    EXPECT_LT((path[k].start - path[k - 1].end).norm(), 1e-9) << c.what << " motion " << k;
}

// Counter-clockwise, the tool inside: two lines, a bulge to the right and one on top, all corners
// concave.
const Contour pocket = {"pocket", "X40\nG3 X40 Y30 R20\nG3 X0 Y30 R30\nG1 X0 Y10\n"};

TEST(Compensation, StaysAtTheToolsRadiusInConcaveCornersOfLinesAndArcs) {
  expect_parallel(pocket, "X20 Y15", "G41", "G1 X20 Y0\n");
}

// The same clockwise, on the other side.
TEST(Compensation, TheOtherWayRoundOnTheOtherSide) {
  expect_parallel({"clockwise pocket", "X0\nY30\nG2 X40 Y30 R30\nG2 X40 Y0 R20\nG1 X30\n"},
                  "X20 Y15", "G42", "G1 X20 Y0\n");
}

// Outside, with rounds at every corner; arcs bulging out and in.
TEST(Compensation, RoundsEveryCornerOutside) {
  expect_parallel({"island", "X40\nG3 X40 Y30 R20\nG3 X0 Y30 R30\nG1 X0 Y0\nX15\n"}, "X20 Y-20",
                  "G42", "G1 X20 Y0\n");
  expect_parallel({"waist", "X40\nG2 X40 Y30 R40\nG1 X0\nY0\nX15\n"}, "X20 Y-20", "G42",
                  "G1 X20 Y0\n");
}

// A negative diameter in the table is the other side (common practice, no source).
TEST(Compensation, ANegativeDiameterChangesSides) {
  const std::string head = "G21 G90 F100\nG1 X20 Y15\n", blocks = "G1 X20 Y0\nX40\nY30\nG40\nM30\n";
  const auto a = read(head + "G41 D1\n" + blocks), b = read(head + "G42 D2\n" + blocks);
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t k = 0; k < a.size(); ++k)
    EXPECT_LT((a[k].end - b[k].end).norm(), 1e-9) << "motion " << k;
}

// Down at an outer corner, then round it: an arc of the tool's radius about the corner by the
// corner's angle.
TEST(Compensation, AVerticalMoveAtAnOuterCorner) {
  const auto m = read("G21 G90 F100\nG1 X-20 Y10\nG41 D1\nX0 Y0\nX10\nZ-2\nY-10\nG40\nM30\n");
  double arcs = 0;
  for (const Motion& x : m) {
    if (x.kind != PathKind::arc) continue;
    arcs += length(x);
    EXPECT_LT((x.centre - Vec3(10, 0, -2)).norm(), 1e-9);
    EXPECT_NEAR(arc_radius(x), radius, 1e-9);
  }
  // At X0 the contour turns by the angle of the way in, which ends at the tangent point itself.
  EXPECT_NEAR(arcs, radius * pi / 2, 1e-9);
  EXPECT_LT((m.back().end - Vec3(10 + radius, -10, -2)).norm(), 1e-9);
}

// NISTIR 6556, appendix B: a first move that is an arc ends on the parallel curve, tangent to it.
// From (10, 0) to (0, 13) going in the direction of -X there: about (0, c) with 10^2 + c^2 = (13 -
// c)^2.
TEST(Compensation, EntersByAnArc) {
  const auto m =
      read("G21 G90 F100\nG1 X10 Y0\nG42 D1\nG3 X0 Y10 I-10 J0\nX-10 Y0 I0 J-10\nG40\nM30\n");
  ASSERT_GE(m.size(), 3u);
  EXPECT_LT((m[1].end - Vec3(0, 13, 0)).norm(), 1e-9);
  EXPECT_LT((m[1].centre - Vec3(0, 69.0 / 26, 0)).norm(), 1e-9);
  EXPECT_LT((tangent_at(m[1], 1).normalized() + Vec3::UnitX()).norm(), 1e-9);
  EXPECT_GT(m[1].sweep, 0);
  EXPECT_LT((m[2].centre - Vec3(0, 0, 0)).norm(), 1e-9);
  EXPECT_LT((m[2].end - Vec3(-13, 0, 0)).norm(), 1e-9);
}

struct Refused {
  const char *why, *text, *what;
  std::uint32_t line;
};

TEST(Compensation, WhatTheToolDoesNotFitIntoIsRefusedAtItsLine) {
  const std::string head = "G21 G90 F100\nG1 X-20 Y10\nG41 D1\nG1 X0 Y0\n";  // lines 1 to 4
  for (const Refused& c : {
           Refused{"an arc of radius 2 to the left, a tool of radius 3", "X10\nG3 X10 Y4 R2\n",
                   "the tool's radius is not less than the arc's", 6},
           Refused{"back by 135 degrees after 4: the tool's path ends before it begins",
                   "X20\nY4\nX10\n", "before it is too short", 7},
           Refused{"a corner before a short move", "X20\nX18 Y2\nY30\n", "behind it is too short",
                   6},
           Refused{"an arc in the zx plane", "X10\nG18\n", "plane", 6},
       }) {
    Keep keep;
    Diagnostics d;
    EXPECT_FALSE(interpret(head + c.text + "G40\nM30\n", "test.nc", options(), keep, d)) << c.why;
    ASSERT_FALSE(d.all().empty()) << c.why;
    const auto error = std::find_if(d.all().begin(), d.all().end(), [](const Diagnostic& x) {
      return x.severity == Severity::error;
    });
    ASSERT_NE(error, d.all().end()) << c.why;
    EXPECT_EQ(error->code, "compensation") << c.why << to_text(*error);
    EXPECT_NE(error->what.find(c.what), std::string::npos) << c.why << ": " << error->what;
    EXPECT_EQ(error->place.line, c.line) << c.why << to_text(*error);
  }
}

TEST(Compensation, FirstMovesThatWouldGougeAreRefused) {
  for (const char* text : {"G41 D1\nG1 X2\nG40\n",           // shorter than the radius
                           "G41 D1\nG3 X2 Y2 I0 J2\nG40\n",  // an arc smaller than the tool
                           "G41 D9\nG1 X20\nG40\n"}) {       // no such tool
    Keep keep;
    Diagnostics d;
    EXPECT_FALSE(
        interpret(std::string("G21 G90 F100\n") + text + "M30\n", "test.nc", options(), keep, d))
        << text;
    ASSERT_EQ(d.errors(), 1u) << text;
    EXPECT_EQ(d.all().back().code, "compensation") << text << to_text(d.all().back());
  }
}

}  // namespace
}  // namespace proveout::nc
