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
// Too high, a pocket as small tells nothing: what is left under the outline is no support either.
TEST(PlainPlate, TheSkinOfAHeightTooGreatIsNoSupport) {
  Plate plate;
  plate.off.z() = 2;
  plate.pocket_x = plate.pocket_y = 9;
  const Ran ran = run(plate.files(), voxel);
  ASSERT_FALSE(ran.result.is_null()) << ran.said;
  EXPECT_EQ(ran.status, 1) << ran.said;
  for (const auto& c : ran.result["causes"]) EXPECT_NE(c["kind"], "support") << c;
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
