// The drawing's contours against a block whose sections are known in closed form, as it lies in two
// setups.
#include "report/page/build/piece_drawing.h"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::page {
namespace {

using stock::cut_box;
using stock::Cutting;
using stock::line;
using stock::tool_of;

double area(const nlohmann::ordered_json& contours) {  // shoelace formula
  double sum = 0;
  for (const auto& c : contours)
    for (std::size_t i = 0; i < c.size(); i += 2) {
      const std::size_t n = (i + 2) % c.size();
      sum += (c[i].get<double>() * c[n + 1].get<double>() -
              c[n].get<double>() * c[i + 1].get<double>()) /
             2;
    }
  return sum;
}

// A block of 40 x 20 x 10 whose right-hand 10 mm are milled down to z = 4.
TEST(PieceDrawing, SectionsOfAStepBlockInBothSetups) {
  const Cutting c = cut_box({40, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 10),
                            {line({35, -8, 4}, {35, 28, 4}), line({38, 28, 4}, {38, -8, 4})});
  RigidMotion setup = RigidMotion::Identity();
  setup.translation() = Vec3(0, 0, 10);  // zero: left, front, top
  auto drawing = piece_drawing(c.stock, setup);
  ASSERT_EQ(drawing["plan"].size(), 2u);
  EXPECT_NEAR(drawing["plan"][0]["at"].get<double>(), -0.5, 0.01);
  EXPECT_NEAR(drawing["plan"][1]["at"].get<double>(), -9.5, 0.01);
  EXPECT_NEAR(area(drawing["plan"][0]["contours"]), 30 * 20, 2);
  EXPECT_NEAR(area(drawing["plan"][1]["contours"]), 40 * 20, 2);
  for (int a = 0; a < 3; ++a) {
    EXPECT_NEAR(drawing["low"][a].get<double>(), Vec3(0, 0, -10)[a], 0.02);
    EXPECT_NEAR(drawing["high"][a].get<double>(), Vec3(40, 20, 0)[a], 0.02);
  }
  // From the front: 40 x 10 without 10 x 6 at the upper right.
  EXPECT_NEAR(drawing["front"][0]["at"].get<double>(), 10, 0.01);
  EXPECT_NEAR(area(drawing["front"][0]["contours"]), 400 - 60, 2);
  // A handful of corners says it all: straight edges are no more than their ends.
  EXPECT_LT(drawing["plan"][1]["contours"][0].size(), 40u);

  // Turned about y, zero at the left front top as it lies then: the step is on the left, below.
  setup = RigidMotion::Identity();
  setup.linear() = Eigen::AngleAxisd(pi, Vec3::UnitY()).toRotationMatrix();
  setup.translation() = Vec3(40, 0, 0);
  drawing = piece_drawing(c.stock, setup);
  EXPECT_NEAR(area(drawing["plan"][0]["contours"]), 40 * 20, 2);
  EXPECT_NEAR(area(drawing["plan"][1]["contours"]), 30 * 20, 2);
  double left = 1e9;
  for (const auto& contour : drawing["plan"][1]["contours"])
    for (std::size_t i = 0; i < contour.size(); i += 2)
      left = std::min(left, contour[i].get<double>());
  EXPECT_NEAR(left, 10, 0.03);
}

TEST(PieceDrawing, NothingLeftIsNothingDrawn) {
  const Cutting c =
      cut_box({4, 4, 4}, 0.5, tool_of(job::ToolShape::flat, 12), {line({-9, 2, -1}, {14, 2, -1})});
  EXPECT_TRUE(piece_drawing(c.stock, RigidMotion::Identity()).is_null());
}

}  // namespace
}  // namespace proveout::page
