// Poses of setups against arithmetic by hand.
#include "sim/setup/pose.h"

#include <gtest/gtest.h>

namespace proveout::setup {
namespace {

const Box3 blank(Vec3(0, 0, 0), Vec3(160, 60, 32));

job::Setup setup_of(std::vector<job::Turn> turn, job::ZeroEdge x, job::ZeroEdge y,
                    job::ZeroEdge z) {
  job::Setup s;
  s.turn = std::move(turn);
  s.zero.x = x;
  s.zero.y = y;
  s.zero.z = z;
  return s;
}

TEST(Pose, MiddleOfTheTop) {
  const auto pose = stock_from_setup(
      setup_of({}, job::ZeroEdge::centre, job::ZeroEdge::centre, job::ZeroEdge::max), blank, {});
  EXPECT_LT((pose * Vec3(1, 2, -3) - Vec3(81, 32, 29)).norm(), 1e-12);
  EXPECT_EQ(zero_in_words(pose, blank),
            "zero: midway between left and right, midway between front and back, on the blank's "
            "top face");
}

// Wherever a zero lies, an operator must find it: each edge, how far in from the nearer one, how
// far outside, above and below.
TEST(Pose, AnyZeroInWords) {
  const auto words = [](const Vec3& at, std::vector<job::Turn> turn = {}) {
    job::Setup s;
    s.turn = std::move(turn);
    s.zero.at = at;
    return zero_in_words(stock_from_setup(s, blank, {}), blank);
  };
  EXPECT_EQ(words(Vec3(0, 60, 0)),
            "zero: on the left edge, on the back edge, on the blank's bottom face");
  EXPECT_EQ(words(Vec3(160, 0, 30)),
            "zero: on the right edge, on the front edge, 2 mm below the blank's top face");
  EXPECT_EQ(words(Vec3(12.5, 41, 33.25)),
            "zero: 12.5 mm in from the left edge, 19 mm in from the back edge, 1.25 mm above the "
            "blank's top face");
  EXPECT_EQ(words(Vec3(-5, 70, 32)),
            "zero: 5 mm outside the left edge, 10 mm outside the back edge, on the blank's top "
            "face");
  // As the blank lies on the machine: turned about y, its right is on the left.
  EXPECT_EQ(words(Vec3(157, 30, 0), {{job::Axis::y, 180}}),
            "zero: 3 mm in from the left edge, midway between front and back, on the blank's top "
            "face");
}

TEST(Pose, FlippedAboutY) {
  const auto pose = stock_from_setup(
      setup_of({{job::Axis::y, 180}}, job::ZeroEdge::min, job::ZeroEdge::min, job::ZeroEdge::max),
      blank, {});
  EXPECT_LT((pose * Vec3(1, 2, -3) - Vec3(159, 2, 3)).norm(), 1e-12);
  EXPECT_EQ(pose.linear()(1, 1), 1.0);  // quarter turns are exact
}

TEST(Pose, EveryQuarterTurnIsAProperRotation) {
  for (auto axis : {job::Axis::x, job::Axis::y, job::Axis::z}) {
    for (double degrees : {-270.0, -90.0, 0.0, 90.0, 180.0, 270.0, 360.0}) {
      const std::vector<job::Turn> turns = {{axis, degrees}, {job::Axis::z, 90}};
      const auto r = machine_from_stock_rotation(turns);
      EXPECT_EQ(r.determinant(), 1.0);
      EXPECT_EQ((r * r.transpose() - Eigen::Matrix3d::Identity()).norm(), 0.0);
    }
  }
}

TEST(Pose, PointOffsetAndError) {
  job::Setup s;
  s.zero.at = Vec3(10, 20, 30);
  s.zero.offset = Vec3(1, 0, 0);
  s.locating_error = Vec3(0, 0.1, 0);
  // The work lies 0.1 too far back, so the tool meets a point 0.1 further front.
  EXPECT_LT((stock_from_setup(s, blank, {}) * Vec3::Zero() - Vec3(11, 19.9, 30)).norm(), 1e-12);
  EXPECT_LT((stock_from_setup(s, blank, {}, false) * Vec3::Zero() - Vec3(11, 20, 30)).norm(),
            1e-12);
}

TEST(Pose, MilledBoxInsteadOfTheBlank) {
  job::Setup s =
      setup_of({{job::Axis::y, 180}}, job::ZeroEdge::min, job::ZeroEdge::min, job::ZeroEdge::max);
  s.zero.on = job::ZeroOn::milled;
  const Box3 milled(Vec3(-157, 2, -32), Vec3(-3, 58, 0));  // machine axes after the turn
  EXPECT_LT((stock_from_setup(s, blank, milled) * Vec3::Zero() - Vec3(157, 2, 0)).norm(), 1e-12);
}

}  // namespace
}  // namespace proveout::setup
