// A zero that lies off on a plate of which next to nothing tells it, at shifts, sizes and turns: it
// is named, and what cuts the same is said with it; what is no shift is not taken for one.
#include "tests/report/causes/plain_plate.h"

#include <random>

namespace proveout::planted {
namespace {

constexpr double voxel = 0.6;

std::string first_text(const Ran& ran) {
  return ran.result.is_null() || ran.result["causes"].empty()
             ? ""
             : ran.result["causes"][0]["text"].get<std::string>();
}

// A third of a voxel on each axis.
Ran names_the_shift(const Plate& plate, const std::string& what) {
  Ran ran = run(plate.files(), voxel);
  SCOPED_TRACE(what + "\n" + ran.said);
  EXPECT_FALSE(first_text(ran).empty());
  if (first_text(ran).empty()) return ran;
  const auto& cause = ran.result["causes"][0];
  EXPECT_EQ(cause["kind"], "zero");
  EXPECT_EQ(cause["setup"], "top");
  EXPECT_TRUE(cause.contains("shift"));
  for (int axis = 0; axis < 3; ++axis)
    EXPECT_NEAR(cause["shift"][static_cast<std::size_t>(axis)].get<double>(), plate.off[axis],
                voxel / 3)
        << "axis " << axis;
  EXPECT_NE(first_text(ran).find("part"), std::string::npos) << "one setup: part or zero";
  fits_one_screen(ran, what);
  return ran;
}

const std::vector<std::vector<std::pair<char, int>>> turns{
    {}, {{'x', 180}}, {{'y', 90}}, {{'x', 90}, {'z', 90}}, {{'z', 90}, {'y', 180}}};

TEST(PlainPlateAtLength, RightItHasNoCauseHoweverItLies) {
  for (const auto& turn : turns) {
    Plate plate;
    plate.turn = turn;
    plate.by_faces = turn.size() == 1;
    plate.inner_deep = plate.by_faces ? 2 : 0;
    const Ran ran = run(plate.files(), voxel);
    ASSERT_FALSE(ran.result.is_null()) << ran.said;
    EXPECT_TRUE(ran.result["causes"].empty()) << ran.said;
    EXPECT_EQ(ran.status, 0) << ran.said;
    for (const auto& f : ran.result["findings"]) EXPECT_EQ(f["level"], "note") << f.dump();
  }
}

// Of all that is milled a hundredth is floor, and one floor alone: a program too deep there cuts
// the same.
void told_by_one_floor(double radius, double off) {
  Plate plate;
  plate.off.z() = off;
  plate.radius = radius;
  plate.pocket_x = plate.pocket_y = 9;
  const Ran ran = names_the_shift(plate, fmt::format("{} mm in z, radius {}", off, radius));
  EXPECT_NE(first_text(ran).find("depths"), std::string::npos) << first_text(ran);
}
TEST(PlainPlate, AHeightIsToldByOneSmallFloor) { told_by_one_floor(40, -3); }
// Too high, the outline goes through no more: what is left under it is no support.
TEST(PlainPlate, AHeightTooGreatIsToldByOneSmallFloorAndItsSkinIsNoSupport) {
  Plate plate;
  plate.off.z() = 2;
  plate.pocket_x = plate.pocket_y = 9;
  const Ran ran = names_the_shift(plate, "2 mm too high, 9 x 9");
  EXPECT_EQ(ran.status, 1) << ran.said;
  EXPECT_NE(first_text(ran).find("depths"), std::string::npos) << first_text(ran);
  EXPECT_EQ(ran.result["causes"].size(), 1u) << ran.said;
}

// The pocket alone is too shallow or too deep, and the outline goes as deep as it must: no zero,
// and nothing else of the whole setup; where to look is said with the finding.
void told_where_it_is(double side, double deeper, bool says_confined = true) {
  Plate plate;
  plate.posted_deeper = deeper;
  plate.pocket_x = plate.pocket_y = side;
  const Ran ran = run(plate.files(), voxel);
  SCOPED_TRACE(fmt::format("{} mm square, {} mm deeper\n{}", side, deeper, ran.said));
  ASSERT_FALSE(ran.result.is_null());
  EXPECT_TRUE(ran.result["causes"].empty());
  EXPECT_EQ(ran.status, 1);
  ASSERT_FALSE(ran.result["findings"].empty());
  const auto& f = ran.result["findings"][0];
  EXPECT_EQ(f["kind"], deeper > 0 ? "gouge" : "excess");
  EXPECT_GT(f["line"], 0);
  if (!says_confined) return;
  EXPECT_EQ(f["detail"], "confined");
  EXPECT_TRUE(f["remedy"].get<std::string>().starts_with("Look at depth")) << f["remedy"];
  EXPECT_NE(ran.screen.find("Look at depth"), std::string::npos);
}
TEST(PlainPlate, APocketTooShallowIsNoZero) { told_where_it_is(9, -2); }
TEST(PlainPlateAtLength, APocketOfAnyDepthIsNoZero) {
  for (const auto& [side, deeper] :
       {std::pair{16, -2.0}, {16, 1.5}, {9, 3.0}, {30, -1.5}, {30, 2.5}})
    told_where_it_is(side, deeper, side < 30);  // 30 x 30 mm is no small place
}

TEST(PlainPlateAtLength, AHeightIsToldByASmallerShareOfTheSurface) { told_by_one_floor(50, -3); }

// The tool its comment contradicts, and a zero that lies off: both are named, and nothing else is
// left over.
TEST(PlainPlate, AToolAndAHeightAreBothNamed) {
  Plate plate;
  plate.off.z() = -3;
  plate.posted_diameter = 5;
  plate.comment = "T1 D5 FLAT";
  const Ran ran = run(plate.files(), voxel);
  ASSERT_FALSE(ran.result.is_null()) << ran.said;
  bool tool = false, zero = false;
  for (const auto& c : ran.result["causes"]) {
    tool = tool || c["kind"] == "tool";
    if (c["kind"] != "zero") continue;
    zero = true;
    EXPECT_NEAR(c["shift"][2].get<double>(), -3, voxel / 3) << c;
    EXPECT_LT(std::hypot(c["shift"][0].get<double>(), c["shift"][1].get<double>()), voxel / 3) << c;
  }
  EXPECT_TRUE(tool && zero) << ran.said;
  EXPECT_EQ(ran.result["causes"].back()["remains"], 0) << ran.said;
}

// A comment that names another size beside the right tool: the zero is told as the declared tool
// cuts, and the comment's word explains nothing but itself.
void told_as_declared(const Plate& plate) {
  const Ran ran = run(plate.files(), voxel);
  SCOPED_TRACE(plate.comment + "\n" + ran.said);
  ASSERT_FALSE(ran.result.is_null());
  bool tool = false, zero = plate.off.isZero();
  for (const auto& c : ran.result["causes"]) {
    if (c["kind"] == "zero" || c["kind"] == "origin") {
      EXPECT_FALSE(plate.off.isZero());
      zero = true;
      for (int axis = 0; axis < 3; ++axis)
        EXPECT_NEAR(c["shift"][static_cast<std::size_t>(axis)].get<double>(), plate.off[axis],
                    voxel / 3);
    }
    if (c["kind"] != "tool") continue;
    tool = true;
    EXPECT_EQ(c["explains"], 1);
    EXPECT_NE(c["remedy"].get<std::string>().find("fit the part as declared"), std::string::npos);
  }
  EXPECT_TRUE(tool);
  EXPECT_TRUE(zero);
  if (!plate.off.isZero()) {
    EXPECT_NE(ran.result["causes"][0]["kind"], "tool");
  }
}
TEST(PlainPlateAtLength, AWrongCommentBesideTheRightToolShiftsNoZero) {
  Plate plate;
  plate.off = {2, 1.3, 0};
  plate.comment = "T1 D8 FLAT";
  told_as_declared(plate);
}
TEST(PlainPlateAtLength, AWrongCommentBesideTheRightToolExplainsNothing) {
  Plate plate;
  plate.comment = "T1 D8 FLAT";
  told_as_declared(plate);
  plate.off = {0, 0, -1.5};
  told_as_declared(plate);
  plate.off = {-1.1, 0, 0};
  plate.comment = "T1 DIA 0.125 FLAT";  // inches
  told_as_declared(plate);
  plate.off = {0.8, -2.6, 0};
  plate.comment = "T1 D5 FLAT";
  told_as_declared(plate);
}

// A slip of the program in one place beside it heads the verdict; the comment explains no error.
TEST(PlainPlateAtLength, AnErrorHeadsTheVerdictRatherThanAWarningsCause) {
  Plate plate;
  plate.comment = "T1 D8 FLAT";
  plate.posted_longer = 2;
  const Ran ran = run(plate.files(), voxel);
  ASSERT_FALSE(ran.result.is_null()) << ran.said;
  EXPECT_TRUE(ran.result["verdict"].get<std::string>().starts_with("Do not cut: 1 error"))
      << ran.said;
}

// Two floors that lie off alike leave the depths of one in no doubt.
TEST(PlainPlateAtLength, TwoFloorsTellAHeightForSure) {
  Plate plate;
  plate.off.z() = -3;
  plate.inner_deep = 2;
  EXPECT_EQ(first_text(names_the_shift(plate, "two floors")).find("depths"), std::string::npos);
}

TEST(PlainPlateAtLength, AnyShiftHoweverTheSheetIsTurned) {
  std::mt19937 random(20261130);
  std::uniform_real_distribution<double> any(-3, 3);
  for (std::size_t k = 0; k < turns.size(); ++k) {
    Plate plate;
    plate.turn = turns[k];
    plate.off = k == 1 ? Vec3(0, 0, -3) : Vec3(any(random), any(random), any(random) / 2);
    names_the_shift(plate,
                    fmt::format("off by {}, {}, {}", plate.off.x(), plate.off.y(), plate.off.z()));
  }
}

TEST(PlainPlateAtLength, APartOffSidewaysBesideAZeroAtFacesIsTheOrigin) {
  Plate plate;
  plate.by_faces = true;
  plate.part_off = {2.5, -1.5, 0};
  const Ran ran = run(plate.files(), voxel);
  ASSERT_FALSE(ran.result["causes"].empty()) << ran.said;
  EXPECT_EQ(ran.result["causes"][0]["kind"], "origin") << ran.said;
  EXPECT_NE(first_text(ran).find("zero"), std::string::npos) << ran.said;
}

// No shift cuts these: a floor too deep where another is right, a pocket too long, another cutter.
TEST(PlainPlateAtLength, WhatIsNoShiftIsNotNamedAsOne) {
  std::vector<std::pair<std::string, Plate>> all(3);
  all[0].first = "one of two floors too deep";
  all[0].second.inner_deep = 4;
  all[0].second.posted_deeper = 1;
  all[1].first = "the pocket 2 mm too long";
  all[1].second.posted_longer = 2;
  all[2].first = "posted for 5 mm, 6 in the holder";
  all[2].second.posted_diameter = 5;
  for (const auto& [what, plate] : all) {
    const Ran ran = run(plate.files(), voxel);
    ASSERT_FALSE(ran.result.is_null()) << what << ran.said;
    EXPECT_EQ(ran.status, 1) << what << ran.said;
    for (const auto& c : ran.result["causes"])
      EXPECT_TRUE(c["kind"] != "zero" && c["kind"] != "origin") << what << "\n" << ran.said;
  }
}

}  // namespace
}  // namespace proveout::planted
