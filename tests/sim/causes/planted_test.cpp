// One mistake at a time on a job that is right without it: the cause named first must be that one.
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/sim/causes/stepped_block.h"

namespace proveout::causes {
namespace {

using run::CauseKind;

const run::Cause* first(const run::JobResult& r) {
  return r.causes.empty() ? nullptr : &r.causes.front();
}

TEST(Planted, ARightJobHasNoCause) {
  const auto r = SteppedBlock{}.run();
  EXPECT_TRUE(r.causes.empty()) << words(r);
  EXPECT_TRUE(std::none_of(r.findings.begin(), r.findings.end(), [](const Finding& f) {
    return f.level != Severity::note;
  })) << words(r);
  EXPECT_TRUE(r.verdict.starts_with("No error and no warning in what was looked for")) << r.verdict;
}

// Any shift, along any axis, found to a third of a voxel (0.08 mm) and said in the setup's axes.
TEST(Planted, AZeroThatLiesOffIsFoundToAThirdOfAVoxel) {
  std::mt19937 random(20261129);
  std::uniform_real_distribution<double> size(-4, 4);
  for (int round = 0; round < 6; ++round) {
    SteppedBlock job;
    Vec3 off(size(random), size(random), 0.6 * size(random));
    if (round == 0) off = {0, 0, -3};
    if (round == 1) off = {0, 0, 2};
    if (round == 2) off = {2, 0, 0};
    job.zero += off;
    const auto r = job.run();
    SCOPED_TRACE(fmt::format("seed 20261129, round {}: off by {}, {}, {}\n{}", round, off.x(),
                             off.y(), off.z(), words(r)));
    ASSERT_NE(first(r), nullptr);
    EXPECT_EQ(first(r)->kind, CauseKind::zero);
    EXPECT_EQ(first(r)->setup, "A");
    ASSERT_TRUE(first(r)->shift);
    EXPECT_LT((*first(r)->shift - off).norm(), 0.08 * std::sqrt(3.0));
    EXPECT_GT(first(r)->explains, 0u);
    EXPECT_TRUE(r.verdict.starts_with("Do not cut: setup A's zero lies off by")) << r.verdict;
  }
}

// Programs in inches, and a block that lies turned by any angle: the same, along the machine's
// axes.
TEST(Planted, AZeroThatLiesOffInInchesAndAtAnyAngle) {
  for (const auto& [inches, degrees] : {std::pair{true, 17.0}, {false, 90.0}, {true, -133.0}}) {
    SteppedBlock job;
    job.in_inches = inches;
    job.turned = degrees;
    const Vec3 off(1.7, -0.9, degrees < 0 ? -0.6 : 0);
    job.zero += off;
    const auto r = job.run();
    SCOPED_TRACE(fmt::format("{} degrees, inches {}\n{}", degrees, inches, words(r)));
    ASSERT_NE(first(r), nullptr);
    EXPECT_EQ(first(r)->kind, CauseKind::zero);
    ASSERT_TRUE(first(r)->shift);
    const Vec3 machine =
        Eigen::AngleAxisd(degrees * M_PI / 180, Vec3::UnitZ()).toRotationMatrix() * off;
    EXPECT_LT((*first(r)->shift - machine).norm(), 0.08 * std::sqrt(3.0));
  }
}

// A box mirrored is a box turned half round and moved: neither that nor a zero is named for it.
TEST(Planted, AMirroredProgramIsNoTurnAndNoZero) {
  for (const bool inches : {false, true}) {
    SteppedBlock job;
    job.mirrored = true;
    job.in_inches = inches;
    const auto r = job.run();
    EXPECT_TRUE(r.causes.empty()) << words(r);
    EXPECT_TRUE(r.verdict.starts_with("Do not cut")) << r.verdict;
  }
}

// No comment names the tool: walls alike on all sides are its doing, whatever else would lie on a
// part that looks the same from both ends.
TEST(Planted, AnotherToolThatNoCommentNamesIsNoTurn) {
  for (const double posted : {5.0, 8.0}) {
    SteppedBlock job;
    job.posted_diameter = posted;
    job.comment = "(FLAT MILL)";
    const auto r = job.run();
    ASSERT_NE(first(r), nullptr) << words(r);
    EXPECT_EQ(first(r)->kind, CauseKind::tool) << words(r);
    EXPECT_EQ(r.causes.size(), 1u) << words(r);
  }
}

// A comment that is wrong beside the right tool, on a program that slipped nowhere and one zeroed
// off, in mm and in inches.
TEST(Planted, AWrongCommentExplainsItselfAlone) {
  for (const char* comment : {"(T1 D8 FLAT MILL)", "(T1 DIA 0.125 FLAT)"}) {
    SteppedBlock job;
    job.comment = comment;
    job.in_inches = comment[5] == 'I';
    const auto right = job.run();
    ASSERT_NE(first(right), nullptr) << words(right);
    EXPECT_EQ(first(right)->kind, CauseKind::tool) << words(right);
    EXPECT_NE(first(right)->remedy.find("fit the part as declared"), std::string::npos);
    job.zero += Vec3(-1.4, 2.2, 0);
    const auto off = job.run();
    ASSERT_EQ(off.causes.size(), 2u) << words(off);
    EXPECT_EQ(first(off)->kind, CauseKind::zero) << words(off);
    EXPECT_LT((*first(off)->shift - Vec3(-1.4, 2.2, 0)).norm(), 0.15) << words(off);
    EXPECT_EQ(off.causes[1].explains, 1u) << words(off);
  }
}

// The advice followed: the finding goes.
TEST(Planted, TheZeroMovedAsAdvisedFits) {
  SteppedBlock job;
  job.zero += Vec3(1.5, -2.25, 0.5);
  const auto wrong = job.run();
  ASSERT_NE(first(wrong), nullptr) << words(wrong);
  ASSERT_TRUE(first(wrong)->shift);
  job.zero -= *first(wrong)->shift;
  const auto mended = job.run();
  EXPECT_TRUE(mended.causes.empty()) << words(mended);
  EXPECT_TRUE(std::none_of(mended.findings.begin(), mended.findings.end(), [](const Finding& f) {
    return f.level == Severity::error;
  })) << words(mended);
}

TEST(Planted, APartElsewhereInTheBlankIsTheOrigin) {
  SteppedBlock job;
  job.two_setups = true;
  job.part_origin = {1.2, -0.8, -0.5};
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::origin) << words(r);
  ASSERT_TRUE(first(r)->shift);
  EXPECT_LT((*first(r)->shift - job.part_origin).norm(), 0.15) << words(r);
}

TEST(Planted, OneOfTwoSetupsOffIsItsZero) {
  SteppedBlock job;
  job.two_setups = true;
  EXPECT_TRUE(job.run().causes.empty());
}

// By less than counts as on the part for a shift: flat walls are told finer. The walls stand off by
// half of what the diameters differ, and no word sends to the depth at one line.
TEST(Planted, AToolALittleOffIsToldByItsWalls) {
  for (const double larger : {0.14, -0.5}) {
    SteppedBlock b;
    b.comment = "";
    b.declared_diameter = 6 + larger;
    const auto r = b.run();
    const run::Cause* c = first(r);
    ASSERT_NE(c, nullptr) << larger << "\n" << words(r);
    EXPECT_EQ(c->kind, CauseKind::tool) << larger << "\n" << words(r);
    EXPECT_NE(c->text.find(fmt::format("{:.2f} mm on every wall", std::abs(larger) / 2)),
              std::string::npos)
        << c->text;
    for (const Finding& f : r.findings) EXPECT_NE(f.detail, "confined") << larger << ": " << f.text;
  }
}

TEST(Planted, AnotherToolIsToldByTheComment) {
  SteppedBlock job;
  job.posted_diameter = 8;
  job.comment = "(8 MM FLAT END MILL)";
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::tool) << words(r);
  EXPECT_EQ(first(r)->tool, 1);
}

TEST(Planted, ACommentOfTheSameSizeInInchesIsNoCause) {
  SteppedBlock job;
  job.posted_diameter = job.declared_diameter = 6.35;
  job.comment = "(1/4 FLAT END MILL, 2 FLUTES)";
  const auto r = job.run();
  EXPECT_TRUE(std::none_of(r.findings.begin(), r.findings.end(), [](const Finding& f) {
    return f.detail == "tool-size-differs";
  })) << words(r);
}

TEST(Planted, AnotherShapeIsToldByTheComment) {
  SteppedBlock job;
  job.shape = "ball";
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::tool) << words(r);
  EXPECT_NE(first(r)->text.find("flat"), std::string::npos) << words(r);
}

// One setup, its zero declared at the blank's faces: the part that lies off is as good a reading as
// the zero, sideways the better one, and both are said; upright the zero stands first.
TEST(Planted, APartOffBesideAZeroAtFacesIsSaidOfBoth) {
  SteppedBlock job;
  job.declared_zero = "x = \"centre\", y = \"centre\", z = \"top\"";
  job.part_origin = {2.5, -1.5, 0};
  const auto sideways = job.run();
  ASSERT_NE(first(sideways), nullptr) << words(sideways);
  EXPECT_EQ(first(sideways)->kind, CauseKind::origin) << words(sideways);
  ASSERT_TRUE(first(sideways)->shift);
  EXPECT_LT((*first(sideways)->shift - job.part_origin).norm(), 0.15) << words(sideways);
  EXPECT_NE(first(sideways)->text.find("zero"), std::string::npos);
  job.part_origin = {0, 0, -1.5};
  const auto upright = job.run();
  ASSERT_NE(first(upright), nullptr) << words(upright);
  EXPECT_EQ(first(upright)->kind, CauseKind::zero) << words(upright);
  EXPECT_NE(first(upright)->text.find("part"), std::string::npos);
}

// Far off, where shifts along the axes alone do not lead.
TEST(Planted, AMeshWhoseOriginWasForgottenIsFoundFarAway) {
  SteppedBlock job;
  job.declared_zero = "x = \"centre\", y = \"centre\", z = \"top\"";
  job.part_origin = {-30, -22, 0};  // drawn about its middle, as if about its corner
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::origin) << words(r);
  ASSERT_TRUE(first(r)->shift);
  EXPECT_LT((*first(r)->shift - job.part_origin).norm(), 0.15) << words(r);
}

TEST(Planted, AnotherBlankIsToldByTheComment) {
  SteppedBlock job;
  job.before_first_move = "(STOCK 60 X 44 X 23 MM)\n";
  job.zero.z() += 3;  // as if touched on the top of the blank the program was posted for
  const auto r = job.run();
  ASSERT_FALSE(r.causes.empty()) << words(r);
  EXPECT_TRUE(std::any_of(r.findings.begin(), r.findings.end(), [](const Finding& f) {
    return f.detail == "blank-size-differs";
  })) << words(r);
}

// Zeroed on the bottom a blank too thin moves no cut: the top of the part is not there, and no line
// is to blame. A blank with room over the part is no cause.
TEST(Planted, ABlankTooThinForThePartIsTold) {
  for (const double thick : {14.5, 19.0}) {
    SteppedBlock b;
    b.blank_z = thick;
    const auto r = b.run();
    const run::Cause* c = first(r);
    if (thick > 17) {
      EXPECT_TRUE(r.causes.empty()) << words(r);
      continue;
    }
    ASSERT_NE(c, nullptr) << words(r);
    EXPECT_EQ(c->kind, CauseKind::blank) << words(r);
    EXPECT_NE(c->text.find(fmt::format("out of the blank by {:.2f} mm at its high z", 17 - thick)),
              std::string::npos)
        << c->text;
    EXPECT_EQ(c->remains, 0u) << words(r);
  }
}

TEST(Planted, TheDeclaredBlankInAnyOrderOrUnitIsNoContradiction) {
  for (const char* same : {"(STOCK 44 X 60 X 20)", "(BLANK 2.362 x 1.732 x .787 IN)",
                           "(BLOCK 60*44*20MM)", "(PART 10 X 20 X 30)"}) {
    SteppedBlock job;
    job.before_first_move = std::string(same) + "\n";
    const auto r = job.run();
    EXPECT_TRUE(std::none_of(r.findings.begin(), r.findings.end(),
                             [](const Finding& f) { return f.detail == "blank-size-differs"; }))
        << same << "\n"
        << words(r);
  }
}

TEST(Planted, LengthsReadInInchesThatAreMm) {
  SteppedBlock job;
  job.units = "G20";
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::units) << words(r);
}

TEST(Planted, TheSpindleNeverStarted) {
  SteppedBlock job;
  job.spindle = "S18000\n";
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::spindle) << words(r);
}

TEST(Planted, FeedsInAnotherUnit) {
  SteppedBlock job;
  job.feed /= 60;
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::units) << words(r);
}

TEST(Planted, G91LeftOnAfterTheReturnHome) {
  SteppedBlock job;
  job.after_first_level = "G91 G28 Z0\n";
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::mode) << words(r);
}

}  // namespace
}  // namespace proveout::causes
