// Removed volume of single cuts against closed forms (solid geometry; Steinmetz' crossing
// cylinders), at random places and angles. Tolerances: 0.05 % RMS and 0.2 % worst at voxel =
// diameter / 30.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <functional>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

constexpr int placements = 50;
constexpr double diameter = 6;
constexpr double radius = diameter / 2;
const Vec3 block(40, 40, 14);
const Vec3 middle(20, 20, 0);

using MakeMotions = std::function<std::vector<nc::Motion>()>;

struct ErrorFigures {
  double rms = 0, worst = 0;
};

ErrorFigures errors(const job::Tool& tool, const MakeMotions& make, double exact, double voxel,
                    unsigned seed, int count = placements) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> angle(0, 2 * pi), offset(-0.5, 0.5);
  ErrorFigures f;
  for (int i = 0; i < count; ++i) {
    const double a = angle(random);
    const Vec3 shift(offset(random), offset(random), 0);
    std::vector<nc::Motion> motions = make();
    for (auto& m : motions) m = moved(m, a, middle, shift);
    const double volume = removed(cut_box(block, voxel, tool, motions).cut);
    const double error = volume / exact - 1;
    f.rms += error * error / count;
    if (std::abs(error) > std::abs(f.worst)) f.worst = error;
    EXPECT_LT(std::abs(error), 0.002)
        << "seed " << seed << " case " << i << " angle " << a << " shift " << shift.transpose();
  }
  f.rms = std::sqrt(f.rms);
  return f;
}

void check(const char* name, const job::Tool& tool, const MakeMotions& make, double exact) {
  const ErrorFigures f = errors(tool, make, exact, diameter / 30, 7);
  testing::Test::RecordProperty(name, fmt::format("rms {:.2e} worst {:.2e}", f.rms, f.worst));
  fmt::print("{}: rms {:.2e}, worst {:+.2e} of {:.3f} mm3\n", name, f.rms, f.worst, exact);
  EXPECT_LT(f.rms, 5e-4) << name;
}

const double top = block.z();

TEST(RemovedVolume, Slot) {
  const double length = 12, depth = 2.3;
  check(
      "slot", tool_of(job::ToolShape::flat, diameter),
      [&] {
        return std::vector{line({14, 20, top - depth}, {14 + length, 20, top - depth})};
      },
      (diameter * length + pi * radius * radius) * depth);
}

TEST(RemovedVolume, FlatPlunge) {
  const double depth = 3.7;
  check(
      "flat plunge", tool_of(job::ToolShape::flat, diameter),
      [&] {
        return std::vector{line({20, 20, top + 2}, {20, 20, top - depth})};
      },
      pi * radius * radius * depth);
}

TEST(RemovedVolume, BallGroove) {
  const double length = 12, depth = 1.1;
  const double half = std::acos((radius - depth) / radius);
  const double segment = radius * radius * (half - std::sin(half) * std::cos(half));
  const double cap = pi * depth * depth * (3 * radius - depth) / 3;
  check(
      "ball groove", tool_of(job::ToolShape::ball, diameter),
      [&] {
        return std::vector{line({14, 20, top - depth}, {14 + length, 20, top - depth})};
      },
      segment * length + cap);
}

TEST(RemovedVolume, BallGrooveBelowCentre) {
  const double length = 10, depth = 5;
  const double area = pi * radius * radius / 2 + diameter * (depth - radius);
  const double ends = 2.0 / 3 * pi * std::pow(radius, 3) + pi * radius * radius * (depth - radius);
  check(
      "deep ball groove", tool_of(job::ToolShape::ball, diameter),
      [&] {
        return std::vector{line({15, 20, top - depth}, {15 + length, 20, top - depth})};
      },
      area * length + ends);
}

TEST(RemovedVolume, Cone) {
  job::Tool vee = tool_of(job::ToolShape::vee, 10);
  vee.tip_angle = 90;
  const double depth = 4;
  check(
      "cone", vee,
      [&] {
        return std::vector{line({20, 20, top + 1}, {20, 20, top - depth})};
      },
      pi * std::pow(depth, 3) / 3);
}

TEST(RemovedVolume, VeeGroove) {
  job::Tool vee = tool_of(job::ToolShape::vee, 10);
  vee.tip_angle = 60;
  const double depth = 4, length = 12, half = std::tan(30 / deg_per_rad) * depth;
  check(
      "vee groove", vee,
      [&] {
        return std::vector{line({14, 20, top - depth}, {14 + length, 20, top - depth})};
      },
      half * depth * length + pi * half * half * depth / 3);
}

TEST(RemovedVolume, FullCircle) {
  const double ring = 8, depth = 2.3;
  check(
      "full circle", tool_of(job::ToolShape::flat, diameter),
      [&] {
        return std::vector{arc({20 + ring, 20, top - depth}, {20, 20, top - depth}, 2 * pi)};
      },
      pi * (std::pow(ring + radius, 2) - std::pow(ring - radius, 2)) * depth);
}

TEST(RemovedVolume, QuarterArc) {
  const double ring = 9, depth = 2.3;
  check(
      "quarter arc", tool_of(job::ToolShape::flat, diameter),
      [&] {
        return std::vector{arc({20 + ring, 20, top - depth}, {20, 20, top - depth}, -pi / 2)};
      },
      (pi / 2 * ring * diameter + pi * radius * radius) * depth);
}

TEST(RemovedVolume, CrossingBallGroovesSteinmetz) {
  // Two full-depth half-round grooves cross: their common part is half a Steinmetz solid, 16 R^3
  // / 3.
  const double length = 16, depth = radius;
  const double one = pi * radius * radius / 2 * length + 2.0 / 3 * pi * std::pow(radius, 3);
  check(
      "crossing grooves", tool_of(job::ToolShape::ball, diameter),
      [&] {
        return std::vector{line({12, 20, top - depth}, {12 + length, 20, top - depth}),
                           line({20, 12, top - depth}, {20, 12 + length, top - depth})};
      },
      2 * one - 0.5 * 16 * std::pow(radius, 3) / 3);
}

TEST(RemovedVolume, BallRamp) {
  // A ball ramping down from wholly above to wholly within: integrated numerically from the exact
  // cross-sections (segments of circles stretched by the slope), 20 000 slices.
  const Vec3 from(10, 20, top + 3.5), to(30, 20, top - 2.5);
  double exact = 0;
  const int slices = 4000;
  for (int i = 0; i < slices; ++i) {
    for (int j = 0; j < 400; ++j) {
      // Column at (x, y): lowest point of the swept ball; exact by the capsule's lower surface.
      const double x = 5 + 30.0 * (i + 0.5) / slices, y = -radius + diameter * (j + 0.5) / 400;
      double lowest = 1e9;
      const double across = radius * radius - y * y;
      // Lower envelope of the balls: minimise z(t) - sqrt(across - (x - x(t))^2).
      const double run = to.x() - from.x(), slope = (to.z() - from.z()) / run;
      const double r = std::sqrt(across);
      // d/dx: slope = -(x - xt)/sqrt(..) gives x - xt = -slope * r / sqrt(1 + slope^2).
      const double shift = -slope * r / std::sqrt(1 + slope * slope);
      const double xt = std::clamp(x + shift, from.x(), to.x());
      const double d2 = across - (x - xt) * (x - xt);
      if (d2 >= 0) lowest = from.z() + slope * (xt - from.x()) + radius - std::sqrt(d2);
      if (lowest < top) exact += (top - lowest) * (30.0 / slices) * (diameter / 400);
    }
  }
  check(
      "ball ramp", tool_of(job::ToolShape::ball, diameter),
      [&] { return std::vector{line(from, to)}; }, exact);
}

TEST(RemovedVolume, FlatRamp) {
  // A flat end ramping: its lower envelope over a column is the flat's lowest pose that covers it.
  const Vec3 from(14, 20, top), to(26, 20, top - 3);
  const double run = to.x() - from.x(), slope = (to.z() - from.z()) / run;
  double exact = 0;
  const int slices = 4000, rows = 1000;
  for (int i = 0; i < slices; ++i) {
    for (int j = 0; j < rows; ++j) {
      const double x = 10 + 20.0 * (i + 0.5) / slices, y = -radius + diameter * (j + 0.5) / rows;
      const double half = std::sqrt(radius * radius - y * y);
      const double xt = std::min(x + half, to.x());
      if (xt < std::max(from.x(), x - half)) continue;
      const double z = from.z() + slope * (xt - from.x());
      exact += std::max(0.0, top - z) * (20.0 / slices) * (diameter / rows);
    }
  }
  check(
      "flat ramp", tool_of(job::ToolShape::flat, diameter),
      [&] { return std::vector{line(from, to)}; }, exact);
}

TEST(RemovedVolume, HelixBoresItsCylinder) {
  // Two helical turns and a level one leave a round pocket (helix radius below the tool's radius).
  const double ring = 2, depth = 3;
  check(
      "helix", tool_of(job::ToolShape::flat, diameter),
      [&] {
        const Vec3 centre(20, 20, top);
        const Vec3 start(20 + ring, 20, top);
        std::vector<nc::Motion> m = {arc(start, centre, 4 * pi, -depth)};
        m.push_back(arc(m[0].end, centre, 2 * pi));
        return m;
      },
      pi * std::pow(ring + radius, 2) * depth);
}

TEST(RemovedVolume, ErrorFallsThreefoldWithHalfTheVoxel) {
  const double length = 12, depth = 1.1;
  const double half = std::acos((radius - depth) / radius);
  const double exact = radius * radius * (half - std::sin(half) * std::cos(half)) * length +
                       pi * depth * depth * (3 * radius - depth) / 3;
  const auto make = [&] {
    return std::vector{line({14, 20, top - depth}, {14 + length, 20, top - depth})};
  };
  const job::Tool ball = tool_of(job::ToolShape::ball, diameter);
  const double coarse = errors(ball, make, exact, 0.2, 11, 20).rms;
  const double fine = errors(ball, make, exact, 0.1, 11, 20).rms;
  fmt::print("rms {:.2e} at 0.2 mm, {:.2e} at 0.1 mm: {:.1f}-fold\n", coarse, fine, coarse / fine);
  EXPECT_GT(coarse / fine, 3);
}

}  // namespace
}  // namespace proveout::stock
