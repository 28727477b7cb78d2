// Which way the blank lies: a part with one corner cut off fits one way only, a rectangle fits two.
// What each placement must give follows from the outline's own symmetry.
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "sim/flip/candidates.h"
#include "tests/sim/pipeline/work_folder.h"
#include "two_sides.h"

namespace proveout::flip {
namespace {

const Placement& named(const Flip& flip, const std::string& name) {
  const auto found = std::find_if(flip.placements.begin(), flip.placements.end(),
                                  [&](const Placement& p) { return p.name == name; });
  EXPECT_NE(found, flip.placements.end()) << name;
  return *found;
}

long of_kind(const run::JobResult& r, Severity level) {
  return std::count_if(r.findings.begin(), r.findings.end(), [&](const Finding& f) {
    return f.kind == FindingKind::flip_mismatch && f.level == level;
  });
}

bool listed_unchecked(const run::JobResult& r) {
  return std::any_of(r.not_checked.begin(), r.not_checked.end(),
                     [](const auto& n) { return n.what == "flip-mismatch"; });
}

TEST(Placements, TheDeclaredOneWins) {
  const run::JobResult r = two_sides::run({});
  ASSERT_EQ(r.flips.size(), 1u);
  const Flip& f = r.flips[0];
  EXPECT_EQ(f.decision, Decision::declared) << f.text;
  EXPECT_EQ(f.placements.size(), 4u);
  EXPECT_LT(f.placements[0].apart, 0.03);
  EXPECT_EQ(f.placements[0].name, "turned about y");
  // The corner is 11.3 mm of 123 mm of wall, and takes 8 mm off two more: at 5 mm each, less what
  // lies within 2 mm of a wall's end, between 0.5 and 1.2 mm on the mean.
  EXPECT_GT(f.margin, 0.5);
  EXPECT_LT(f.margin, 1.2);
  EXPECT_EQ(of_kind(r, Severity::error) + of_kind(r, Severity::note), 0);
  EXPECT_FALSE(listed_unchecked(r));
}

TEST(Placements, AnotherTurnIsNamedAndItsFigureIsThatOfTheRunWhereItIsDeclared) {
  two_sides::Sides wrong;
  wrong.turn = "{ about = \"x\", degrees = 180 }";
  const run::JobResult r = two_sides::run(wrong), right = two_sides::run({});
  ASSERT_EQ(r.flips.size(), 1u);
  EXPECT_EQ(r.flips[0].decision, Decision::other);
  EXPECT_EQ(r.flips[0].placements[r.flips[0].best_other].name, "turned about y");
  EXPECT_LT(r.flips[0].margin, -0.5);
  EXPECT_EQ(of_kind(r, Severity::error), 1);
  // Second way to the same figure: cutting the blank the other way round instead of turning the
  // walls. Not quite the same walls are left there, where the sides cut each other's away.
  EXPECT_NEAR(named(right.flips[0], "turned about x").apart, r.flips[0].placements[0].apart, 0.12);
  EXPECT_NEAR(named(r.flips[0], "turned about y").apart, right.flips[0].placements[0].apart, 0.03);
}

TEST(Placements, AMirroredProgramIsNamed) {
  two_sides::Sides mirrored;
  mirrored.warp_b = [](const auto& p) { return two_sides::Vec2(-p.x(), p.y()); };
  const run::JobResult r = two_sides::run(mirrored);
  ASSERT_EQ(r.flips.size(), 1u);
  EXPECT_EQ(r.flips[0].decision, Decision::other);
  EXPECT_TRUE(r.flips[0].placements[r.flips[0].best_other].mirrored);
  EXPECT_NE(r.flips[0].text.find("mirrored"), std::string::npos) << r.flips[0].text;
}

TEST(Placements, ARectangleCannotBeTold) {
  two_sides::Sides even;
  even.outline = two_sides::rectangle();
  const run::JobResult r = two_sides::run(even);
  ASSERT_EQ(r.flips.size(), 1u);
  EXPECT_EQ(r.flips[0].decision, Decision::cannot_tell);
  EXPECT_EQ(of_kind(r, Severity::note), 1);
  EXPECT_NE(r.flips[0].text.find("mark the blank"), std::string::npos);
  EXPECT_NEAR(r.flips[0].margin, 0, 0.03);
}

// A rectangle half turned is itself, and side B cut 0.8 mm larger all round meets side A no way:
// then it is no mark on the blank that is wanted.
TEST(Placements, WhereNoWayFitsTheZerosAreDoubtedFirst) {
  two_sides::Sides even;
  even.outline = two_sides::rectangle();
  even.warp_b = [](const two_sides::Vec2& p) {
    return two_sides::Vec2(p.x() + std::copysign(0.8, p.x()), p.y() + std::copysign(0.8, p.y()));
  };
  const run::JobResult r = two_sides::run(even);
  ASSERT_EQ(r.flips.size(), 1u);
  EXPECT_EQ(r.flips[0].decision, Decision::cannot_tell) << r.flips[0].text;
  EXPECT_NE(r.flips[0].text.find("look at the zeros first"), std::string::npos) << r.flips[0].text;
  EXPECT_EQ(r.flips[0].text.find("mark the blank"), std::string::npos);
}

// Nothing of side B continues a wall of side A: said, not passed over.
TEST(Placements, SidesThatDoNotMeetAreListedAsNotChecked) {
  two_sides::Sides apart;
  apart.depth_a = 5;
  apart.depth_b = 4;
  const run::JobResult r = two_sides::run(apart);
  ASSERT_EQ(r.flips.size(), 1u);
  EXPECT_EQ(r.flips[0].decision, Decision::undecided);
  EXPECT_TRUE(listed_unchecked(r));
}

// The everyday second side that makes no outline: it faces and drills. A hole comes within some
// millimetres of a pocket's wall by the one way of lying or the other, which is no meeting. Places
// of pocket and holes drawn at random, turned about x and about y, with and without a cut outline.
TEST(Placements, ASideThatFacesAndDrillsIsNotCalledTurned) {
  std::mt19937 random(20);
  const auto between = [&](double a, double b) {
    return a + (b - a) * static_cast<double>(random() % 1000) / 1000;
  };
  for (int n = 0; n < 24; ++n) {
    const double px = between(-18, 6), py = between(-10, 2), pw = between(9, 14);
    std::string side_a = "G21 G90\nT1 M6\nS18000 M3\nG0 Z5\n";
    side_a += fmt::format(
        "G0 X{0:.3f} Y{1:.3f}\nG1 Z-3 F200\nG1 X{2:.3f} F500\nY{3:.3f}\nX{0:.3f}\nY{1:.3f}\nG0 "
        "Z5\n",
        px, py, px + pw, py + 9);
    if (n % 2 == 0) side_a += "G0 X-29 Y-19\nG1 Z-5 F200\nG1 X29 F500\nY19\nX-29\nY-19\nG0 Z5\n";
    side_a += "M30\n";
    std::string side_b = "G21 G90\nT1 M6\nS18000 M3\nG0 X-34 Y-22 Z5\nG1 Z-1 F200\n";
    for (double y = -22; y < 23; y += 8)
      side_b += fmt::format("G1 X34 Y{} F700\nY{}\nX-34\nY{}\n", y, y + 4, y + 8);
    side_b += "G0 Z5\nT2 M6\nS6000 M3\n";
    for (int hole = 0; hole < 3; ++hole)
      side_b += fmt::format("G0 X{:.3f} Y{:.3f}\nG1 Z-9 F120\nG0 Z5\n", between(-20, 20),
                            between(-12, 12));
    const pipeline::WorkFolder work;
    work.file("a.nc", side_a);
    work.file("b.nc", side_b + "M30\n");
    const std::string zero = "zero = { x = \"centre\", y = \"centre\", z = \"top\" }\n";
    const run::JobResult r = work.run(
        "[simulation]\nvoxel = 0.3\n[stock]\nsize = [60, 40, 12]\nmaterial = \"6061-T6\"\n"
        "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 20\nstickout = 30\n"
        "[[tools]]\nnumber = 2\nshape = \"drill\"\ndiameter = 4\nflute_length = 30\nstickout = 40\n"
        "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n" +
        zero + "[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = [{ about = \"" +
        (n % 4 < 2 ? "x" : "y") + "\", degrees = 180 }]\n" + zero);
    SCOPED_TRACE(fmt::format("seed 20 case {}\n{}{}", n, side_a, side_b));
    ASSERT_EQ(r.flips.size(), 1u);
    EXPECT_NE(r.flips[0].decision, Decision::other) << r.flips[0].text;
    EXPECT_EQ(of_kind(r, Severity::error) + of_kind(r, Severity::warning), 0) << r.flips[0].text;
  }
}

TEST(Placements, SameForAnyNumberOfThreads) {
  two_sides::Sides one, four;
  one.threads = 1;
  four.threads = 4;
  const Flip a = two_sides::run(one).flips.at(0), b = two_sides::run(four).flips.at(0);
  for (std::size_t i = 0; i < a.placements.size(); ++i)
    EXPECT_EQ(a.placements[i].apart, b.placements[i].apart);
  EXPECT_EQ(a.text, b.text);
}

// Whatever the zero's rule, a block turned half round lies in the same place: the cut moves by a
// half turn about the block's middle.
TEST(Candidates, TurnAboutTheBlocksMiddleForEveryZero) {
  const Box3 blank(Vec3::Zero(), Vec3(60, 40, 20));
  const Vec3 middle = blank.center();
  job::Setup setup;
  setup.turn = {{job::Axis::y, 180}};
  RigidMotion plan = RigidMotion::Identity();
  plan.translation() = Vec3(7, 3, 20);
  std::vector<job::Zero> zeros(3);
  zeros[0].x = job::ZeroEdge::max;
  zeros[1].x = job::ZeroEdge::centre;
  zeros[1].offset = Vec3::Zero();
  zeros[2].at = Vec3(11, 5, 0);
  for (const job::Zero& zero : zeros) {
    setup.zero = zero;
    const auto ways = candidates(setup, plan, blank, Box3());
    ASSERT_EQ(ways.size(), 4u);
    EXPECT_LT((ways[0].moved.matrix() - Eigen::Matrix4d::Identity()).norm(), 1e-12);
    const Vec3 in_plan = plan.inverse() * middle;
    for (const Candidate& way : ways) {
      EXPECT_LT((way.moved * in_plan - in_plan).norm(), 1e-9) << way.name;
      EXPECT_NEAR(way.moved.linear().determinant(), way.mirrored ? -1 : 1, 1e-12);
      EXPECT_LT((way.moved.linear().row(2).transpose() - Vec3::UnitZ()).norm(), 1e-12);
    }
  }
  setup.zero = zeros[0];
  EXPECT_EQ(candidates(setup, plan, Box3(Vec3::Zero(), Vec3(40, 40, 20)), Box3()).size(), 8u);
}

}  // namespace
}  // namespace proveout::flip
