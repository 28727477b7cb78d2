// What a zero touches, in words, against boxes worked out by hand.
#include "sim/setup/zero_touch.h"

#include <gtest/gtest.h>

#include <cmath>

#include "sim/measure/probe.h"
#include "sim/setup/pose.h"

namespace proveout::setup {
namespace {

const Box3 blank(Vec3(0, 0, 0), Vec3(160, 60, 32));

job::Setup flipped(job::ZeroOn on) {
  job::Setup s;
  s.turn = {{job::Axis::y, 180}};
  s.zero.on = on;
  s.zero.x = s.zero.y = job::ZeroEdge::min;
  s.zero.z = job::ZeroEdge::max;
  return s;
}

TEST(ZeroTouch, SaysWhoMadeEachFace) {
  // Side A took 3 mm off the right (now left) and 2 mm off the front; the top is the blank's own.
  const Box3 milled(Vec3(-157, 2, -32), Vec3(0, 60, 0));
  const ZeroTouch t = zero_touch(flipped(job::ZeroOn::milled), blank, milled, 0.2, 0.001);
  EXPECT_EQ(t.face[0], FaceOf::earlier_setups);
  EXPECT_EQ(t.face[1], FaceOf::earlier_setups);
  EXPECT_EQ(t.face[2], FaceOf::blank);
  EXPECT_LT((t.from_low - Vec3(3, 2, 32)).norm(), 1e-12);
  EXPECT_EQ(t.text,
            "zero: x at the left face that earlier setups left, 3.00 mm in from "
            "the blank's left face; y at the front face that earlier setups left, 2.00 mm in "
            "from the blank's front face; z at the blank's own top face. Within 1 mm of "
            "X0 Y0 the highest material stands at Z 0.00");
}

TEST(ZeroTouch, OnTheBlankNothingIsMilled) {
  const Box3 milled(Vec3(-157, 2, -32), Vec3(0, 60, 0));
  const ZeroTouch t = zero_touch(flipped(job::ZeroOn::blank), blank, milled, 0.2, 0);
  EXPECT_EQ(t.face[0], FaceOf::blank);
  EXPECT_NE(t.text.find("x at the blank's own left face"), std::string::npos) << t.text;
}

// Between two faces, and off an edge by an offset, with the middle and the offset worked out by
// hand.
TEST(ZeroTouch, MiddlesAndOffsets) {
  job::Setup s;
  s.zero.x = job::ZeroEdge::centre;
  s.zero.y = job::ZeroEdge::max;
  s.zero.z = job::ZeroEdge::max;
  s.zero.offset = Vec3(0, -4, 0);
  const ZeroTouch own = zero_touch(s, blank, {}, 0.2, -1.25);
  EXPECT_LT((own.from_low - Vec3(80, 56, 32)).norm(), 1e-12);
  EXPECT_EQ(own.text,
            "zero: x midway between the blank's own left and right faces, 80.00 mm in from the "
            "blank's left face; y at the blank's own back face and -4.00 mm of offset, 4.00 mm in "
            "from the blank's back face; z at the blank's own top face. Within 1 mm of X0 Y0 the "
            "highest material stands at Z -1.25");
  EXPECT_EQ(own.surface, -1.25);
  // Milled down by 10 on the right, and by 1 from the top.
  s.zero.on = job::ZeroOn::milled;
  s.zero.offset = Vec3(2, 0, 0);
  const ZeroTouch milled = zero_touch(s, blank, Box3(Vec3(0, 0, 0), Vec3(150, 60, 31)), 0.2, 0.0);
  EXPECT_LT((milled.from_low - Vec3(77, 60, 31)).norm(), 1e-12);
  EXPECT_EQ(milled.text,
            "zero: x midway between the left and right faces that earlier setups left and +2.00 mm "
            "of offset, 77.00 mm in from the blank's left face; y at the blank's own back face; z "
            "at the top face that earlier setups left, 1.00 mm below the blank's top face. Within "
            "1 mm of X0 Y0 the highest material stands at Z 0.00");
}

TEST(ZeroTouch, PointInTheAirIsSaid) {
  job::Setup s;
  s.zero.at = Vec3(-5, 70, 40);
  const ZeroTouch t = zero_touch(s, blank, {}, 0.2, -1e9);
  EXPECT_EQ(t.face[0], FaceOf::point);
  EXPECT_FALSE(t.on_material);
  EXPECT_EQ(t.text,
            "zero: x at a point 5.00 mm outside the blank's left face; y at a "
            "point 10.00 mm outside the blank's back face; z at a point 8.00 mm above the "
            "blank's top face. No material lies within 1 mm of X0 Y0: touch off somewhere else and "
            "set it over");
}

TEST(Probe, FeelsFacesOfABoxInAnyPose) {
  const stock::Stock stock = stock::Stock::box(Vec3(20, 16, 10), 0.4);
  job::Setup s;
  s.zero.x = s.zero.y = job::ZeroEdge::min;
  const auto pose = stock_from_setup(s, Box3(Vec3::Zero(), Vec3(20, 16, 10)), {});
  EXPECT_NEAR(measure::highest_on_line(stock, pose, 5, 5), 0, 0.04);
  EXPECT_LT(measure::highest_on_line(stock, pose, -5, 5), -1e8);
  // On its side: turned about x by 90 degrees the height is the old y, 16 mm; the zero lies below.
  s.turn = {{job::Axis::x, 90}};
  s.zero.z = job::ZeroEdge::min;
  const auto side = stock_from_setup(s, Box3(Vec3::Zero(), Vec3(20, 16, 10)), {});
  EXPECT_NEAR(measure::highest_on_line(stock, side, 5, 5), 16, 0.04);
  // A free angle, 45 degrees: the section 20 x 10 stands on a corner, 30 / sqrt 2 wide and tall.
  // Its top corner is 10 or 20 / sqrt 2 from the left, so 5 / sqrt 2 beside the middle, and that
  // much lower is the face over the middle: 25 / sqrt 2 above the lowest corner.
  s.turn = {{job::Axis::y, 45}};
  s.zero.x = job::ZeroEdge::centre;
  const auto askew = stock_from_setup(s, Box3(Vec3::Zero(), Vec3(20, 16, 10)), {});
  EXPECT_NEAR(measure::highest_on_line(stock, askew, 0, 5), 25 / std::sqrt(2.0), 0.1);
}

}  // namespace
}  // namespace proveout::setup
