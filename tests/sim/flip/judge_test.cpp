// What is said of two sides once each placement's figures are known: the rules of
// docs/both-sides.md, 'Which way the blank lies', as a table.
#include <gtest/gtest.h>

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/flip/flip.h"

namespace proveout::flip {
namespace {

constexpr double tell = 0.1;

Placement placement(const std::string& name, double apart, std::optional<double> from_part = {},
                    bool mirrored = false) {
  Placement p;
  p.name = mirrored ? name + ", program mirrored" : name;
  p.mirrored = mirrored;
  p.apart = apart;
  p.from_part = from_part;
  return p;
}

// The declared placement first. compared: mm of wall, 0: the sides have none in common.
Flip judged(std::vector<Placement> placements, double compared) {
  Flip flip;
  flip.earlier = "A";
  flip.later = "B";
  placements.front().declared = true;
  flip.placements = std::move(placements);
  flip.compared_mm = compared;
  judge(flip, tell);
  return flip;
}

bool says(const Flip& flip, const std::string& words) {
  return flip.text.find(words) != std::string::npos;
}

TEST(Judge, NothingInCommonIsNotTold) {
  const Flip f =
      judged({placement("as declared", farthest), placement("turned about x", farthest)}, 0);
  EXPECT_EQ(f.decision, Decision::undecided);
  EXPECT_EQ(f.best_other, 0u);
  EXPECT_EQ(f.text, "");
}

TEST(Judge, TheDeclaredOneByMoreThanTheLeastThatTells) {
  const Flip f = judged({placement("as declared", 0.05), placement("turned about x", 2),
                         placement("turned about y", 0.2), placement("as declared", 1, {}, true)},
                        100);
  EXPECT_EQ(f.decision, Decision::declared);
  EXPECT_EQ(f.best_other, 2u);
  EXPECT_NEAR(f.margin, 0.15, 1e-12);
  EXPECT_EQ(f.text,
            "the walls of sides A and B meet as declared, 0.05 mm apart; with the blank turned "
            "about y they would lie 0.20 apart");
}

TEST(Judge, AnotherByMoreThanTheLeastThatTells) {
  const Flip f = judged({placement("as declared", 0.31), placement("turned about x", 0.2)}, 100);
  EXPECT_EQ(f.decision, Decision::other);
  EXPECT_EQ(f.best_other, 1u);
  EXPECT_NEAR(f.margin, -0.11, 1e-12);
  EXPECT_EQ(f.text,
            "the walls of sides A and B meet better with the blank turned about x: 0.20 mm "
            "apart, 0.31 as declared");
  // Nearer, but by less: not told apart.
  const Flip close =
      judged({placement("as declared", 0.29), placement("turned about x", 0.2)}, 100);
  EXPECT_EQ(close.decision, Decision::cannot_tell);
  EXPECT_TRUE(says(close, "mark the blank"));
}

// An even outline fits mirrored as well as turned: turning is named, unless the mirrored program
// is nearer by more than the least that tells.
TEST(Judge, AMirroredProgramOnlyWhereItIsClearlyNearer) {
  const auto with_mirrored = [](double apart) {
    return judged({placement("as declared", 3), placement("turned about x", 0.2),
                   placement("as declared", apart, {}, true)},
                  100);
  };
  EXPECT_EQ(with_mirrored(0.15).best_other, 1u);
  const Flip f = with_mirrored(0.05);
  EXPECT_EQ(f.decision, Decision::other);
  EXPECT_EQ(f.best_other, 2u);
  EXPECT_TRUE(says(f, "side B's program mirrored:")) << f.text;
  // As near as declared it is no rival: what mirrors itself is told by the part.
  const Flip even = judged({placement("as declared", 0.02), placement("turned about x", 3),
                            placement("as declared", 0.02, {}, true)},
                           100);
  EXPECT_EQ(even.decision, Decision::declared);
  const Flip both = judged({placement("as declared", 3), placement("turned about x", 2),
                            placement("turned about x", 0.1, {}, true)},
                           100);
  EXPECT_TRUE(says(both, "side B's program mirrored and the blank turned otherwise")) << both.text;
}

TEST(Judge, ThePartTellsWhereTheWallsDoNot) {
  const Flip none =
      judged({placement("as declared", farthest, 0.02), placement("turned about x", farthest, 1.5),
              placement("as declared", farthest, 1.0, true)},
             0);
  EXPECT_EQ(none.decision, Decision::declared);
  EXPECT_EQ(none.best_other, 1u);
  EXPECT_NEAR(none.by_part_margin, 1.48, 1e-12);
  EXPECT_EQ(none.text,
            "side B's cut fits the part as declared, 0.02 mm off it; with the blank turned about "
            "x it would be 1.50");
  const Flip other = judged(
      {placement("as declared", farthest, 0.5), placement("turned about x", farthest, 0.02)}, 0);
  EXPECT_EQ(other.decision, Decision::other);
  EXPECT_NEAR(other.by_part_margin, -0.48, 1e-12);
  EXPECT_TRUE(says(other, "side B's cut fits the part better with the blank turned about x"));
  const Flip even = judged(
      {placement("as declared", farthest, 0.03), placement("turned about x", farthest, 0.05)}, 0);
  EXPECT_EQ(even.decision, Decision::cannot_tell);
  EXPECT_TRUE(says(even, "cannot tell from the part")) << even.text;
  EXPECT_TRUE(says(even, "mark the blank")) << even.text;
  // A side that nowhere lies on the part in one placement counts as far from it.
  const Flip off =
      judged({placement("as declared", farthest, 0.02), placement("turned about x", farthest)}, 0);
  EXPECT_EQ(off.decision, Decision::declared);
  EXPECT_NEAR(off.by_part_margin, farthest - 0.02, 1e-12);
}

// Walls that meet as declared do not clear a cut that fits the part better otherwise.
TEST(Judge, WallsAndPartMayDisagree) {
  const Flip f =
      judged({placement("as declared", 0.02, 0.9), placement("turned about x", 2, 0.1)}, 100);
  EXPECT_EQ(f.decision, Decision::other);
  EXPECT_TRUE(says(f, "fits the part better")) << f.text;
  const Flip walls_even =
      judged({placement("as declared", 0.02, 0.05), placement("turned about x", 0.05, 0.06)}, 100);
  EXPECT_EQ(walls_even.decision, Decision::cannot_tell);
  EXPECT_TRUE(says(walls_even, "and lie on the part as well")) << walls_even.text;
  const Flip part_tells =
      judged({placement("as declared", 0.02, 0.05), placement("turned about x", 0.05, 0.86)}, 100);
  EXPECT_TRUE(says(part_tells, "but 0.86 mm off the part")) << part_tells.text;
}

// A side that only faces and drills shares no wall with an outline: one way of lying brings a
// hole's wall some millimetres from a pocket's, which is no meeting.
TEST(Judge, WallsThatMeetBadlyAccuseNobody) {
  for (const double nearer : {0.6, 1.4, 2.67, 4.4}) {
    const Flip on_part = judged(
        {placement("turned about x", farthest, 0.0), placement("turned about y", nearer, 0.2),
         placement("turned about x", nearer, 0.2, true)},
        8);
    EXPECT_EQ(on_part.decision, Decision::declared) << on_part.text;
    EXPECT_EQ(on_part.compared_mm, 0) << "no wall in common: no step to warn of";
    const Flip without_part =
        judged({placement("turned about x", farthest), placement("turned about y", nearer)}, 8);
    EXPECT_EQ(without_part.decision, Decision::cannot_tell) << without_part.text;
    EXPECT_TRUE(says(without_part, "neither fits well")) << without_part.text;
    // Off the part as declared and on it otherwise: named all the same.
    const Flip turned = judged(
        {placement("turned about x", farthest, 0.9), placement("turned about y", nearer, 0.02)}, 8);
    EXPECT_EQ(turned.decision, Decision::other) << turned.text;
    EXPECT_TRUE(says(turned, "fits the part better")) << turned.text;
  }
}

// Walls that meet well otherwise, and a cut that lies on the part as declared, contradict each
// other: told as that, and no error on the word of one.
TEST(Judge, ACutOnThePartIsNotAccusedByWallsAlone) {
  const Flip f =
      judged({placement("as declared", 1.2, 0.04), placement("turned about x", 0.1, 0.8)}, 100);
  EXPECT_EQ(f.decision, Decision::cannot_tell) << f.text;
  EXPECT_TRUE(says(f, "lies on the part as declared")) << f.text;
  const Flip alike =
      judged({placement("as declared", 1.2, 0.04), placement("turned about x", 0.1, 0.05)}, 100);
  EXPECT_EQ(alike.decision, Decision::other) << alike.text;
  const Flip off =
      judged({placement("as declared", 1.2, 0.4), placement("turned about x", 0.1, 0.8)}, 100);
  EXPECT_EQ(off.decision, Decision::other) << off.text;
}

TEST(Judge, WhereNothingFitsTheZerosAreDoubtedFirst) {
  for (const Flip& f :
       {judged({placement("as declared", 0.8), placement("turned about x", 0.85)}, 100),
        judged(
            {placement("as declared", farthest, 0.8), placement("turned about x", farthest, 0.85)},
            0)}) {
    EXPECT_EQ(f.decision, Decision::cannot_tell);
    EXPECT_TRUE(says(f, "look at the zeros first")) << f.text;
    EXPECT_FALSE(says(f, "mark the blank")) << f.text;
  }
}

}  // namespace
}  // namespace proveout::flip
