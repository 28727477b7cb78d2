// One mistake at a time on a job that is right without it: the cause named first must be that one.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
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

// One tool of two: the other cuts rightly.
TEST(Planted, TheSpindleNeverStartedForOneTool) {
  SteppedBlock job;
  job.more_tools =
      "[[tools]]\nnumber = 2\nshape = \"flat\"\nflutes = 2\ndiameter = 6\nflute_length = 20\n"
      "stickout = 30\n";
  for (const bool started : {false, true}) {
    job.after_first_level = std::string("M5\nG0 Z20\nT2 M6\nS18000") + (started ? " M3\n" : "\n");
    const auto r = job.run();
    const auto named = std::find_if(r.causes.begin(), r.causes.end(), [](const run::Cause& c) {
      return c.kind == CauseKind::spindle;
    });
    ASSERT_EQ(named == r.causes.end(), started) << words(r);
    if (started) continue;
    EXPECT_EQ(named->tool, 2) << words(r);
    EXPECT_TRUE(r.verdict.starts_with("Do not cut: setup A never starts the spindle for T2"))
        << r.verdict;
  }
}

// Posted in mm a second, in inches a minute, and in mm a minute behind G20; at a feed in the middle
// of the rule and one at its low end, where ramps and plunges are far below.
TEST(Planted, FeedsInAnotherUnit) {
  for (const double right : {3600.0, 2600.0}) {
    for (const double times : {1 / 60.0, 1 / 25.4, 25.4}) {
      SteppedBlock job;
      job.feed = right * times;
      job.in_inches = times > 1;
      const auto r = job.run();
      SCOPED_TRACE(fmt::format("{} mm/min posted {:.3g} times\n{}", right, times, words(r)));
      ASSERT_NE(first(r), nullptr);
      EXPECT_EQ(first(r)->kind, CauseKind::units);
      const char* unit = times > 1      ? "mm a minute"
                         : times < 0.02 ? "mm a second"
                                        : "inches a minute";
      EXPECT_NE(first(r)->text.find(unit), std::string::npos);
    }
  }
}

// As thick a chip in a program in mm is no unit's doing.
TEST(Planted, FeedsFarTooHighInMmAreNoOtherUnit) {
  for (const double times : {12.0, 25.4}) {
    SteppedBlock job;
    job.feed = 3600 * times;
    const auto r = job.run();
    EXPECT_TRUE(std::none_of(r.causes.begin(), r.causes.end(),
                             [](const run::Cause& c) { return c.kind == CauseKind::units; }))
        << times << "\n"
        << words(r);
  }
}

// A plate 30 x 20 x 6 cut by an outline 4 mm wide out of a blank that may be far larger; faced
// where the blank is higher. mm, stock coordinates; the blank's low x, low y, top is the posted
// zero.
struct CutOut {
  Vec3 blank = {120, 80, 6}, part = {9, 44, 0}, declared = {9, 44, 0};
  std::string x = "min";  // the declared zero's

  static std::string stl() {
    std::string out = "solid part\n";
    const auto face = [&](const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
      for (const auto& [u, v, w] : {std::array{a, b, c}, std::array{a, c, d}}) {
        out += "facet normal 0 0 0\nouter loop\n";
        for (const Vec3& p : {u, v, w})
          out += fmt::format("vertex {} {} {}\n", p.x(), p.y(), p.z());
        out += "endloop\nendfacet\n";
      }
    };
    const auto at = [](int k) { return Vec3(30 * (k & 1), 20 * (k >> 1 & 1), 6 * (k >> 2)); };
    face(at(0), at(2), at(3), at(1));
    face(at(4), at(5), at(7), at(6));
    face(at(0), at(1), at(5), at(4));
    face(at(2), at(6), at(7), at(3));
    face(at(0), at(4), at(6), at(2));
    face(at(1), at(3), at(7), at(5));
    return out + "endsolid part\n";
  }
  run::JobResult run() const {
    std::string nc = "G21 G90\n(T1 D4 FLAT)\nT1 M6\nS18000 M3\nG0 Z5\n";
    const double over = blank.z() - 6;
    for (double y = 0; over > 0 && y < blank.y() + 2; y += 2.8)
      nc += fmt::format("G0 X-6 Y{}\nG0 Z{}\nG1 X{} F1500\nG0 Z5\n", y, -over, blank.x() + 6);
    const double x0 = part.x() - 2, y0 = part.y() - 2, x1 = x0 + 34, y1 = y0 + 24;
    nc += fmt::format("G0 X{} Y{}\n", x0, y0);
    for (const double z : {2.1, 4.2, 6.3})
      nc += fmt::format("G1 Z{} F300\nG1 X{} F1500\nG1 Y{}\nG1 X{}\nG1 Y{}\n", -over - z, x1, y1,
                        x0, y0);
    const pipeline::WorkFolder work;
    work.file("part.stl", stl());
    work.file("a.nc", nc + "G0 Z5\nM30\n");
    return work.run(fmt::format(
        "[simulation]\nvoxel = 0.5\n[stock]\nsize = [{}, {}, {}]\nmaterial = \"mdf\"\n[part]\n"
        "mesh = \"part.stl\"\norigin = [{}, {}, {}]\n[[tools]]\nnumber = 1\nshape = \"flat\"\n"
        "flutes = 2\ndiameter = 4\nflute_length = 14\nstickout = 24\n[[setups]]\nname = \"A\"\n"
        "program = \"a.nc\"\nzero = {{ on = \"blank\", x = \"{}\", y = \"min\", z = \"top\" }}\n",
        blank.x(), blank.y(), blank.z(), declared.x(), declared.y(), declared.z(), x));
  }
};

// From another corner the program would run in the sheet beside the part and cut nothing wrongly:
// that is no zero that fits.
TEST(Planted, APartElsewhereInAFarLargerSheetIsNoCorner) {
  for (const Vec3& off : {Vec3(6.5, -3.2, 0), Vec3(-2.4, 5.1, 0)}) {
    CutOut job;
    job.declared = job.part + off;
    const auto r = job.run();
    ASSERT_NE(first(r), nullptr) << words(r);
    EXPECT_EQ(first(r)->kind, CauseKind::origin) << words(r);
    ASSERT_TRUE(first(r)->shift) << words(r);
    EXPECT_LT((*first(r)->shift - off).norm(), 0.2) << words(r);
    for (const run::ZeroSearch& s : r.zero_search) EXPECT_TRUE(s.fits.empty()) << s.text;
  }
}

// Zeroed on the far edge the program runs beside the work, and takes but a strip off it.
TEST(Planted, AProgramBesideTheWorkIsItsZero) {
  for (const char* x : {"min", "max"}) {
    CutOut job;
    job.blank = {40, 30, 7};
    job.part = job.declared = {5, 5, 0};
    job.x = x;
    const auto r = job.run();
    if (job.x == "min") {
      EXPECT_TRUE(r.zero_search.empty()) << words(r);
      continue;
    }
    ASSERT_NE(first(r), nullptr) << words(r);
    EXPECT_EQ(first(r)->kind, CauseKind::zero) << words(r);
    ASSERT_TRUE(first(r)->shift) << words(r);
    EXPECT_LT((*first(r)->shift - Vec3(40, 0, 0)).norm(), 0.5) << words(r);
  }
}

// A blank of the part's own length and width has no room for the part to lie elsewhere.
TEST(Planted, WhereTheBlankHasNoRoomForThePartItIsTheZero) {
  SteppedBlock job;
  job.declared_zero =
      "on = \"blank\", x = \"centre\", y = \"centre\", z = \"top\", offset = [1.2, -0.9, 0.7]";
  const auto r = job.run();
  ASSERT_NE(first(r), nullptr) << words(r);
  EXPECT_EQ(first(r)->kind, CauseKind::zero) << words(r);
  EXPECT_EQ(first(r)->text.find("[part] origin"), std::string::npos) << words(r);
}

// As the part reaches out of it along one of x and y and the two swapped hold it.
TEST(Planted, ABlankLaidInWithItsSidesSwappedIsTold) {
  CutOut job;
  job.blank = {28, 34, 6};
  job.part = job.declared = {2, 2, 0};
  const auto r = job.run();
  EXPECT_TRUE(std::any_of(r.causes.begin(), r.causes.end(), [](const run::Cause& c) {
    return c.kind == CauseKind::blank && c.text.starts_with("the blank's x and y are swapped");
  })) << words(r);
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
