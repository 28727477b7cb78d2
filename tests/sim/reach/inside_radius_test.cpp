// The smallest inside radius against the arc it was made of; drills in bores of their size.
#include "sim/reach/inside_radius.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "sim/reach/reach.h"

namespace proveout::reach {
namespace {

using Outline = std::vector<Vec3>;  // level, in the order that leaves the open on the left

// Upright walls along an outline, from z 0 to height; facing the left of the way.
mesh::Mesh walls(const Outline& outline, double height) {
  mesh::Mesh mesh;
  for (const Vec3& p : outline) {
    mesh.vertices.push_back(p);
    mesh.vertices.push_back(p + height * Vec3::UnitZ());
  }
  for (std::uint32_t k = 0; k + 1 < outline.size(); ++k) {
    const std::uint32_t a = 2 * k, b = a + 2;
    mesh.triangles.push_back({a, a + 1, b});
    mesh.triangles.push_back({b, a + 1, b + 1});
  }
  return mesh;
}

// Along x to a quarter turn to the left of radius r in n chords, then along y.
Outline corner(double r, int n) {
  Outline out{{-20, 0, 0}};
  for (int k = 0; k <= n; ++k) {
    const double angle = pi / 2 * k / n;
    out.emplace_back(r * std::sin(angle), r * (1 - std::cos(angle)), 0);
  }
  out.emplace_back(r, r + 20, 0);
  return out;
}

const auto everywhere = [](const Vec3&, const Vec3&) { return true; };

TEST(InsideRadius, AFilletOfChordsIsItsArc) {
  for (double r : {0.5, 3.0, 8.0}) {
    for (int n : {4, 8, 30}) {
      const auto found = smallest_inside_radius(walls(corner(r, n), 10), everywhere);
      ASSERT_TRUE(found) << r;
      EXPECT_NEAR(found->radius, r, 1e-6 * r) << r << " in " << n;
      EXPECT_NEAR(found->at.z(), 5, 1e-9);
    }
  }
}

// A hole's wall facing its axis, its rims of places anywhere on the circle: n on the lower one, m
// on the upper one, which rises and falls as where the hole runs out through a sculpted face.
mesh::Mesh hole(double radius, int n, int m, double wave, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> any(0, 1);
  const auto rim = [&](int count) {
    // One in each of three thirds at least: a hole, whatever the rest.
    std::vector<double> out;
    for (int k = 0; k < count; ++k) out.push_back((k < 12 ? (k + any(random)) / 12 : any(random)));
    std::sort(out.begin(), out.end());
    return out;
  };
  const std::vector<double> low = rim(n), high = rim(m);
  mesh::Mesh mesh;
  const auto put = [&](double turn, double z) {
    const double a = 2 * pi * turn;
    // Single precision, as files of meshes have it.
    const Eigen::Vector3f p(static_cast<float>(40 + radius * std::cos(a)),
                            static_cast<float>(25 + radius * std::sin(a)), static_cast<float>(z));
    mesh.vertices.push_back(p.cast<double>());
  };
  for (const double t : low) put(t, 0);
  for (const double t : high) put(t, 10 + wave * std::sin(4 * pi * t));
  // Round both rims at once, always on from the one that is behind.
  const auto count = static_cast<std::uint32_t>(n);
  std::uint32_t i = 0, k = 0;
  while (i < low.size() || k < high.size()) {
    const double next_low = i < low.size() ? (i + 1 < low.size() ? low[i + 1] : 1 + low[0]) : 9;
    const double next_high =
        k < high.size() ? (k + 1 < high.size() ? high[k + 1] : 1 + high[0]) : 9;
    const auto at_low = [&](std::uint32_t at) { return at % count; };
    const auto at_high = [&](std::uint32_t at) {
      return count + at % static_cast<std::uint32_t>(high.size());
    };
    if (next_low <= next_high) {
      mesh.triangles.push_back({at_low(i), at_high(k), at_low(i + 1)});
      ++i;
    } else {
      mesh.triangles.push_back({at_low(i), at_high(k), at_high(k + 1)});
      ++k;
    }
  }
  return mesh;
}

// The circle is that of the vertices, however many there are and wherever they lie on it.
TEST(InsideRadius, TheSameHoleWithAnyVertices) {
  unsigned seed = 0;
  for (const double radius : {1.0, 2.5, 12.0}) {
    for (const int n : {12, 13, 25, 60, 200, 500}) {
      for (const int m : {n, 12, 90, 500}) {
        for (const double wave : {0.0, 1.5}) {
          SCOPED_TRACE(fmt::format("seed {}: radius {}, {} and {} places, wave {}", ++seed, radius,
                                   n, m, wave));
          const auto found = smallest_inside_radius(hole(radius, n, m, wave, seed), everywhere);
          ASSERT_TRUE(found);
          EXPECT_NEAR(found->radius, radius, 2e-3);
        }
      }
    }
  }
}

// A pocket of four to eight straight sides has corners, though they lie on one circle.
TEST(InsideRadius, APocketOfStraightSidesIsNoHole) {
  for (int n = 4; n <= 8; ++n) {
    Outline way;
    for (int k = 0; k <= n; ++k) {
      const double a = 2 * pi * (k % n) / n;
      way.emplace_back(15 * std::cos(a), 15 * std::sin(a), 0);
    }
    const auto found = smallest_inside_radius(walls(way, 10), everywhere);
    ASSERT_TRUE(found) << n;
    EXPECT_EQ(found->radius, 0) << n;
  }
}

TEST(InsideRadius, ASharpCornerIsNone) {
  const auto found =
      smallest_inside_radius(walls({{-20, 0, 0}, {0, 0, 0}, {0, 20, 0}}, 10), everywhere);
  ASSERT_TRUE(found);
  EXPECT_EQ(found->radius, 0);
}

TEST(InsideRadius, OutsideCornersAndHiddenOnesDoNotCount) {
  Outline other_way = corner(3, 8);
  std::reverse(other_way.begin(), other_way.end());
  EXPECT_FALSE(smallest_inside_radius(walls(other_way, 10), everywhere));
  EXPECT_FALSE(smallest_inside_radius(walls(corner(3, 8), 10),
                                      [](const Vec3&, const Vec3&) { return false; }));
}

TEST(InsideRadius, TheLeastOfSeveralWhereverItLies) {
  // A fillet of 4, then one of 1.5.
  Outline way = corner(4, 10);
  for (int k = 0; k <= 10; ++k) {
    const double angle = pi / 2 * k / 10;
    way.emplace_back(4 - 1.5 * (1 - std::cos(angle)), 30 + 1.5 * std::sin(angle), 0);
  }
  way.emplace_back(-10, 31.5, 0);
  const auto found = smallest_inside_radius(walls(way, 6), everywhere);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->radius, 1.5, 1e-6);
  EXPECT_GT(found->at.y(), 29);
}

// A plate 20 x 20 x 10 with a round hole of 48 chords through its middle.
mesh::Mesh drilled_plate(double diameter) {
  constexpr int n = 48;
  mesh::Mesh mesh;
  for (double z : {0.0, 10.0}) {
    for (int k = 0; k < n; ++k) {
      const double a = 2 * pi * k / n;
      const Vec3 out(std::cos(a), std::sin(a), 0);
      const Vec3 square = out / out.cwiseAbs().maxCoeff();
      mesh.vertices.push_back(Vec3(10, 10, z) + 10 * square);
      mesh.vertices.push_back(Vec3(10, 10, z) + diameter / 2 * out);
    }
  }
  const auto add = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c, std::uint32_t d) {
    mesh.triangles.push_back({a, b, c});
    mesh.triangles.push_back({a, c, d});
  };
  for (std::uint32_t k = 0; k < n; ++k) {
    const std::uint32_t o = 2 * k, i = o + 1, o2 = 2 * ((k + 1) % n), i2 = o2 + 1, top = 2 * n;
    add(o + top, o2 + top, i2 + top, i + top);
    add(o, i, i2, o2);
    add(o, o2, o2 + top, o + top);
    add(i, i + top, i2 + top, i2);
  }
  return mesh;
}

job::Tool tool_of(int number, job::ToolShape shape, double diameter) {
  job::Tool t;
  t.number = number;
  t.shape = shape;
  t.diameter = diameter;
  t.flute_length = 30;
  t.stickout = 40;
  t.shank_diameter = diameter;
  return t;
}

TEST(Reach, ADrillReachesTheBoreOfItsOwnSizeAndNothingElse) {
  const mesh::Mesh mesh = drilled_plate(5);
  ASSERT_NEAR(mesh::mass_of(mesh).volume, 10 * (400 - 48 / 2.0 * 2.5 * 2.5 * std::sin(2 * pi / 48)),
              1e-6);
  const double bore = 48 * 2 * 2.5 * std::sin(pi / 48) * 10;
  job::Job job;
  job::Setup setup;
  setup.name = "A";
  job.setups = {setup};
  job.tools = {tool_of(1, job::ToolShape::flat, 8)};
  EXPECT_NEAR(reach(job, mesh, 0.25).too_tight_mm2, bore, 0.1 * bore);
  job.tools.push_back(tool_of(2, job::ToolShape::drill, 5));
  const Reach with = reach(job, mesh, 0.25);
  EXPECT_NEAR(with.too_tight_mm2, 0, 0.02 * bore);
  EXPECT_NEAR(with.setups[0].tools[1].reached_mm2, bore, 0.15 * bore);
  job.tools[1].diameter = 4;
  EXPECT_NEAR(reach(job, mesh, 0.25).too_tight_mm2, bore, 0.1 * bore);
  // The bore's own radius is the plate's least inside radius: too small for the 8 mm cutter.
  EXPECT_TRUE(with.setups[0].inside_corner);
  EXPECT_NEAR(with.setups[0].inside_radius, 2.5, 1e-6);
  EXPECT_FALSE(with.setups[0].tools[0].fits_inside_radius);
}

}  // namespace
}  // namespace proveout::reach
