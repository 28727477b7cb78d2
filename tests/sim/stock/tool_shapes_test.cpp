// What tools of the less usual shapes take: drills, tapers, and form tools, undercutting ones among
// them. A level move of length L by a tool of radius r at each height h of the cut sweeps 2 r L +
// pi r^2 there, a full circle of radius R round it 4 pi R r, and a plunge pi times the square of
// the largest radius up to h (solid geometry; Pappus): closed forms over the pieces of the profile.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>
#include <vector>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

const Vec3 block(40, 40, 14);
const Vec3 middle(20, 20, 0);
const double top = block.z();

// Radius and height of the profile's corners, straight between them, heights never falling.
using Profile = std::vector<std::pair<double, double>>;

struct Shape {
  const char* name;
  job::Tool tool;
  Profile profile;
  double depth;  // mm, of the cut
};

job::Tool form(const Profile& profile) {
  double widest = 0;
  for (const auto& [r, h] : profile) widest = std::max(widest, r);
  job::Tool t = tool_of(job::ToolShape::form, 2 * widest);
  t.profile = profile;
  t.stickout = 0;
  return t;
}

std::vector<Shape> shapes() {
  std::vector<Shape> out;
  // Point of 118 degrees: 3 / tan 59 high.
  Shape drill{"drill", tool_of(job::ToolShape::drill, 6), {}, 5.3};
  drill.tool.tip_angle = 118;
  drill.profile = {{0, 0}, {3, 3 / std::tan(59 / deg_per_rad)}, {3, 20}};
  out.push_back(drill);
  Shape taper{"taper", tool_of(job::ToolShape::taper, 8), {}, 6.4};
  taper.tool.tip_diameter = 2;
  taper.tool.tip_angle = 40;
  taper.profile = {{1, 0}, {4, 3 / std::tan(20 / deg_per_rad)}, {4, 20}};
  out.push_back(taper);
  const Profile t_slot = {{0, 0}, {4, 0}, {4, 3}, {2, 3}, {2, 12}};
  out.push_back({"T slot", form(t_slot), t_slot, 7.7});
  const Profile dovetail = {{0, 0}, {5, 0}, {3, 4}, {3, 12}};
  out.push_back({"dovetail", form(dovetail), dovetail, 6.1});
  // Widest in the middle, convex.
  const Profile barrel = {{0, 0}, {1, 0}, {3, 2}, {3.5, 5}, {2, 9}};
  out.push_back({"barrel", form(barrel), barrel, 8.2});
  // Two discs on one shaft.
  const Profile discs = {{0, 0}, {3, 0}, {3, 2}, {1.5, 2}, {1.5, 5},
                         {4, 5}, {4, 7}, {2, 7}, {2, 12}};
  out.push_back({"two discs", form(discs), discs, 8.9});
  return out;
}

// Integrates what(r) dh over the profile up to the depth by Simpson's rule, which is exact for the
// squares of straight pieces.
template <class F>
double over_heights(const Shape& s, F what) {
  double sum = 0;
  for (std::size_t i = 1; i < s.profile.size(); ++i) {
    const auto [r0, h0] = s.profile[i - 1];
    const auto [r1, h1] = s.profile[i];
    const double end = std::min(h1, s.depth);
    if (!(end > h0)) continue;
    const double re = r0 + (r1 - r0) * (end - h0) / (h1 - h0);
    sum += (end - h0) / 6 * (what(r0) + 4 * what(0.5 * (r0 + re)) + what(re));
  }
  return sum;
}

double plunged(const Shape& s) {
  double sum = 0, widest = 0;
  for (std::size_t i = 1; i < s.profile.size(); ++i) {
    const auto [r0, h0] = s.profile[i - 1];
    const auto [r1, h1] = s.profile[i];
    widest = std::max(widest, r0);
    const double end = std::min(h1, s.depth);
    if (end > h0) {
      // Pieces that widen must start at the widest so far, or the closed form would be another.
      EXPECT_TRUE(r1 <= widest || r0 == widest) << s.name;
      Shape piece = s;
      piece.profile = {{std::max(r0, widest), h0}, {std::max(r1, widest), h1}};
      sum += over_heights(piece, [](double r) { return pi * r * r; });
    }
    widest = std::max(widest, r1);
  }
  return sum;
}

void expect_removed(const Shape& s, const char* what, const std::vector<nc::Motion>& motions,
                    double exact) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> angle(0, 2 * pi), offset(-0.5, 0.5);
  for (int i = 0; i < 3; ++i) {
    std::vector<nc::Motion> lying;
    const double a = angle(random);
    const Vec3 shift(offset(random), offset(random), 0);
    for (const nc::Motion& m : motions) lying.push_back(moved(m, a, middle, shift));
    const double volume = removed(cut_box(block, s.tool.diameter / 30, s.tool, lying).cut);
    EXPECT_NEAR(volume, exact, 0.003 * exact) << s.name << ", " << what << ", seed 5 case " << i;
  }
}

TEST(ToolShapes, LevelMoves) {
  for (const Shape& s : shapes()) {
    const double z = top - s.depth, length = 11;
    expect_removed(s, "level move", {line({14, 20, z}, {14 + length, 20, z})},
                   over_heights(s, [&](double r) { return 2 * r * length + pi * r * r; }));
  }
}

TEST(ToolShapes, FullCircles) {
  for (const Shape& s : shapes()) {
    const double z = top - s.depth, ring = 9;
    expect_removed(s, "circle", {arc({20 + ring, 20, z}, {20, 20, z}, 2 * pi)},
                   over_heights(s, [&](double r) { return 4 * pi * ring * r; }));
  }
}

TEST(ToolShapes, Plunges) {
  for (const Shape& s : shapes()) {
    expect_removed(s, "plunge", {line({20, 20, top + 1}, {20, 20, top - s.depth})}, plunged(s));
  }
}

}  // namespace
}  // namespace proveout::stock
