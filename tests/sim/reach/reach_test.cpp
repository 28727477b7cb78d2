// Reach against trigonometry: a drafted wall, a slot of known width and depth, an undercut.
#include "sim/reach/reach.h"

#include <gtest/gtest.h>

#include <cmath>

#include "sim/reach/map_step.h"

namespace proveout::reach {
namespace {

// A prism along y from 0 to length: corners of its section in x, z, clockwise seen from -y,
// and the triangles that fill the section.
mesh::Mesh prism(const std::vector<std::pair<double, double>>& section,
                 const std::vector<std::array<std::uint32_t, 3>>& fill, double length) {
  mesh::Mesh mesh;
  const auto n = static_cast<std::uint32_t>(section.size());
  for (double y : {0.0, length}) {
    for (const auto& [x, z] : section) mesh.vertices.push_back({x, y, z});
  }
  for (const auto& t : fill) {
    mesh.triangles.push_back(t);
    mesh.triangles.push_back({t[0] + n, t[2] + n, t[1] + n});
  }
  for (std::uint32_t k = 0; k < n; ++k) {
    const std::uint32_t next = (k + 1) % n;
    mesh.triangles.push_back({k, next + n, k + n});
    mesh.triangles.push_back({k, next, next + n});
  }
  return mesh;
}

job::Job job_with(double diameter, double holder, double stickout) {
  job::Job job;
  job::Tool tool;
  tool.number = 1;
  tool.diameter = diameter;
  tool.flute_length = 40;
  tool.stickout = stickout;
  tool.shank_diameter = diameter;
  tool.holder = {{holder, 30}};
  job.tools = {tool};
  job::Setup setup;
  setup.name = "A";
  job.setups = {setup};
  return job;
}

// Largest stick-out over the patches chosen; the area of those that need more than limit; and the
// area that is not reached at all.
struct Chosen {
  double stickout = 0, beyond = 0, out_of_reach = 0;
};
template <class Choose>
Chosen over(const Reach& reach, double limit, Choose choose) {
  Chosen out;
  for (const PatchReach& p : reach.patches) {
    if (!choose(p)) continue;
    const double need = p.stickout.front();
    out.stickout = std::max(out.stickout, need);
    if (need < 0) out.out_of_reach += p.area;
    if (need > limit) out.beyond += p.area;
  }
  return out;
}

// A floor 40 wide at z 5 and a wall of height 20 above it that leans back by a: a cutter of radius
// r at its foot has its axis r away, so a holder of radius R reaches R - r behind the foot, where
// the wall stands (R - r) / tan a high, or h where that is less.
TEST(Reach, DraftedWallAgainstTrigonometry) {
  const double h = 20, r = 3;
  for (double degrees : {5.0, 30.0, 45.0}) {
    for (double big : {8.0, 15.0}) {
      const double slope = std::tan(degrees / deg_per_rad), back = h * slope;
      // 0 floor edge, 1 foot of the wall, 2 its top, then the block's far side and underside.
      const mesh::Mesh mesh =
          prism({{0, 0}, {0, 5}, {40, 5}, {40 + back, 25}, {70 + back, 25}, {70 + back, 0}},
                {{0, 2, 1}, {0, 5, 2}, {2, 5, 3}, {3, 5, 4}}, 12);
      ASSERT_NEAR(mesh::mass_of(mesh).volume, 12 * (40 * 5 + (30 + back) * 25 - back * h / 2),
                  1e-6);
      const double step = 0.2;
      const Reach out = reach(job_with(2 * r, 2 * big, 60), mesh, step, true);
      const Chosen wall = over(out, 1e9, [&](const PatchReach& p) {
        return p.at.x() > 1 && p.at.x() < 40 + back - 1e-6 && p.at.z() > 5 - 1e-6 && p.at.y() > 4 &&
               p.at.y() < 8;
      });
      const double expected = std::min(h, (big - r) / slope);
      EXPECT_NEAR(wall.stickout, expected, 1.6 * step / slope + step)
          << degrees << " deg, holder " << 2 * big;
      EXPECT_NEAR(out.too_tight_mm2, 0, 1e-9);
      // Only the underside is hidden from above.
      EXPECT_NEAR(out.undercut_mm2, (70 + back) * 12, 1e-6);
    }
  }
}

// A slot 6 wide and 10 deep: a 5 mm cutter reaches all of it, standing out 10; a 7 mm cutter
// reaches neither its floor nor its walls.
TEST(Reach, SlotOfKnownWidthAndDepth) {
  const mesh::Mesh mesh =
      prism({{0, 0}, {0, 15}, {20, 15}, {20, 5}, {26, 5}, {26, 15}, {46, 15}, {46, 0}},
            {{0, 2, 1}, {0, 3, 2}, {0, 7, 3}, {3, 7, 4}, {4, 7, 6}, {4, 6, 5}}, 30);
  ASSERT_NEAR(mesh::mass_of(mesh).volume, 30 * (46 * 15 - 60), 1e-6);
  // Away from the slot's open ends, where any cutter pokes in a little.
  const auto in_slot = [](const PatchReach& p) {
    return p.at.x() > 20 - 1e-6 && p.at.x() < 26 + 1e-6 && p.at.y() > 4 && p.at.y() < 26 &&
           p.at.z() > 5 - 1e-6 && p.at.z() < 15 - 1e-6;
  };
  const Reach fits = reach(job_with(5, 20, 8), mesh, 0.2, true);
  EXPECT_NEAR(fits.too_tight_mm2, 0, 1e-9);
  // Standing out 8, the cutter leaves the floor and the lowest 2 of both walls.
  const Chosen reached = over(fits, 8, in_slot);
  EXPECT_NEAR(reached.stickout, 10, 0.2);
  EXPECT_NEAR(reached.beyond, 22 * (6 + 2 * 2), 22 * 0.5);
  const Chosen tight = over(reach(job_with(7, 20, 30), mesh, 0.2, true), 1e9, in_slot);
  EXPECT_NEAR(tight.out_of_reach, 22 * (6 + 2 * 10), 22 * 0.7);
}

// A sharp upright inside corner of height h over a floor. A cutter of radius r leaves a strip r
// wide on both walls, 2 r h, and of the floor what lies outside its own circle, (1 - pi / 4) r^2.
TEST(Reach, SharpInsideCornerInClosedForm) {
  const double h = 10;
  mesh::Mesh mesh = prism({{0, 0}, {0, 30}, {10, 30}, {10, 10}, {30, 10}, {30, 0}},
                          {{0, 2, 1}, {0, 3, 2}, {0, 5, 3}, {3, 5, 4}}, h);
  // Stood up, the length along z; the corner is at x 10, y -10.
  for (Vec3& v : mesh.vertices) v = Vec3(v.x(), -v.z(), v.y());
  ASSERT_NEAR(mesh::mass_of(mesh).volume, h * (30 * 10 + 10 * 20), 1e-6);
  mesh::Mesh base = prism({{0, -2}, {0, 0}, {30, 0}, {30, -2}}, {{0, 2, 1}, {0, 3, 2}}, 30);
  const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
  for (const Vec3& v : base.vertices) mesh.vertices.push_back(v - Vec3(0, 30, 0));
  for (const auto& t : base.triangles)
    mesh.triangles.push_back({t[0] + first, t[1] + first, t[2] + first});
  const auto wall = [](const PatchReach& p) {
    return std::abs(p.outward.z()) < 0.1 && p.at.z() > 0 && p.at.x() > 10 - 1e-6 && p.at.x() < 29 &&
           p.at.y() < -10 + 1e-6 && p.at.y() > -29;
  };
  const auto floor = [](const PatchReach& p) {
    return p.outward.z() > 0.9 && p.at.z() < 1e-6 && p.at.z() > -1e-6 && p.at.x() > 10 &&
           p.at.y() < -10;
  };
  for (const double r : {2.0, 3.0, 5.0}) {
    for (const double step : {0.3, 0.15}) {
      const Reach out = reach(job_with(2 * r, 20, 60), mesh, step, true);
      EXPECT_NEAR(over(out, 1e9, wall).out_of_reach, 2 * r * h, 2 * h * 1.6 * step)
          << r << ", step " << step;
      EXPECT_NEAR(over(out, 1e9, floor).out_of_reach, (1 - pi / 4) * r * r, pi / 2 * r * step)
          << r << ", step " << step;
    }
  }
}

// A block with a round bore of n facets, blind, and its mouth chamfered: rings of vertices joined
// from the floor's middle to the underside's.
mesh::Mesh bored_block(int n, double bore, double depth, double chamfer) {
  mesh::Mesh mesh;
  const double top = 12, wide = 15;
  std::vector<std::vector<Vec3>> rings;
  const auto ring = [&](double radius, double z, bool square) {
    rings.emplace_back();
    for (int k = 0; k < n; ++k) {
      const double a = 2 * pi * (k + 0.5) / n, x = std::cos(a), y = std::sin(a);
      const double r = square ? wide / std::max(std::abs(x), std::abs(y)) : radius;
      rings.back().push_back({r * x, r * y, z});
    }
  };
  ring(bore, top - depth, false);
  ring(bore, top - chamfer, false);
  if (chamfer > 0) ring(bore + chamfer, top, false);
  ring(0, top, true);
  ring(0, 0, true);
  for (const auto& r : rings) mesh.vertices.insert(mesh.vertices.end(), r.begin(), r.end());
  const auto first = [n](std::size_t of, int k) {
    return static_cast<std::uint32_t>(of * static_cast<std::size_t>(n) +
                                      static_cast<std::size_t>(k % n));
  };
  for (std::size_t r = 0; r + 1 < rings.size(); ++r) {
    for (int k = 0; k < n; ++k) {
      mesh.triangles.push_back({first(r, k), first(r + 1, k), first(r + 1, k + 1)});
      mesh.triangles.push_back({first(r, k), first(r + 1, k + 1), first(r, k + 1)});
    }
  }
  const auto floor = static_cast<std::uint32_t>(mesh.vertices.size());
  mesh.vertices.push_back({0, 0, top - depth});
  mesh.vertices.push_back({0, 0, 0});
  for (int k = 0; k < n; ++k) {
    mesh.triangles.push_back({floor, first(0, k), first(0, k + 1)});
    mesh.triangles.push_back(
        {floor + 1, first(rings.size() - 1, k + 1), first(rings.size() - 1, k)});
  }
  return mesh;
}

// Facets stand for a round bore: a cutter or drill of the bore's own radius, or a little less,
// reaches all of it, however coarsely it was written.
TEST(Reach, ABoreOfFacetsIsReachedByTheToolItWasMadeFor) {
  for (const int n : {16, 24, 32, 64}) {
    const mesh::Mesh mesh = bored_block(n, 3, 8, 0);
    // Half the depth less is a prism over the n-gon more.
    ASSERT_NEAR(mesh::mass_of(bored_block(n, 3, 4, 0)).volume - mesh::mass_of(mesh).volume,
                n / 2.0 * 9 * std::sin(2 * pi / n) * 4, 1e-6);
    for (const double diameter : {6.0, 5.5, 4.0}) {
      for (const bool drill : {false, true}) {
        if (drill && diameter < 6) continue;
        job::Job job = job_with(diameter, 20, 60);
        if (drill) {
          // The point stands for the floor; the block's top is a cutter's.
          job.tools.push_back(job.tools[0]);
          job.tools[0].number = 2;
          job.tools[0].diameter = 20;
          job.tools[0].shank_diameter = 20;
          job.tools[1].shape = job::ToolShape::drill;
          job.tools[1].tip_angle = 118;
        }
        EXPECT_NEAR(reach(job, mesh).too_tight_mm2, 0, 0.5)
            << n << " facets, diameter " << diameter << (drill ? ", drill" : "");
      }
    }
  }
}

// A vee of 90 degrees reaches a chamfer of 45 degrees on a hole too small to go into, facets or
// not.
TEST(Reach, AVeeReachesAChamferOfFacets) {
  for (const int n : {16, 32, 128}) {
    job::Job job = job_with(12, 20, 60);
    job.tools[0].shape = job::ToolShape::vee;
    job.tools[0].tip_angle = 90;
    const Reach out = reach(job, bored_block(n, 1.5, 8, 2), 0.1, true);
    const Chosen chamfer = over(out, 1e9, [](const PatchReach& p) {
      return p.at.z() > 10.05 && p.outward.z() > 0.5 && p.outward.z() < 0.9;
    });
    const double area = pi * (1.5 + 3.5) * 2 * std::sqrt(2);
    EXPECT_LT(chamfer.out_of_reach, 0.06 * area) << n;
  }
}

// A T slot: what lies under its lips is seen by no setup from above or below.
TEST(Reach, WhatLiesUnderALipIsSeenByNobody) {
  const mesh::Mesh mesh = prism({{0, 0},
                                 {0, 20},
                                 {15, 20},
                                 {15, 12},
                                 {10, 12},
                                 {10, 6},
                                 {30, 6},
                                 {30, 12},
                                 {25, 12},
                                 {25, 20},
                                 {40, 20},
                                 {40, 0}},
                                {{0, 5, 1},
                                 {1, 4, 2},
                                 {1, 5, 4},
                                 {2, 4, 3},
                                 {0, 6, 5},
                                 {0, 11, 6},
                                 {6, 11, 10},
                                 {6, 10, 7},
                                 {7, 10, 8},
                                 {8, 10, 9}},
                                20);
  ASSERT_NEAR(mesh::mass_of(mesh).volume, 20 * (40 * 20 - 10 * 8 - 20 * 6), 1e-6);
  job::Job job = job_with(6, 20, 40);
  job::Setup under;
  under.name = "B";
  under.turn = {{job::Axis::y, 180}};
  job.setups.push_back(under);
  const Reach out = reach(job, mesh, 0.2);
  // Undersides of the lips 2 x 5, the walls under them 2 x 6, the floor beside the opening 2 x 5.
  EXPECT_NEAR(out.undercut_mm2, 20 * (10 + 12 + 10), 0.03 * 640);
  EXPECT_NEAR(out.too_tight_mm2, 0, 1e-9);
  EXPECT_NEAR(out.surface_mm2, 2 * 600 + 20 * (40 + 2 * 20 + 2 * 15 + 2 * 8 + 2 * 5 + 2 * 6 + 20),
              1e-6);
}

// Two turns of a block 40 x 30 x 20 under a tool a metre wide, one of 6 mm beside it: at a step s
// the maps have (1040 x 1030 + 1020 x 1030) / s2 points and the cutters pi / 4 (1000^2 + 6^2) / s2
// spots.
TEST(Reach, AWideToolTakesACoarserStep) {
  job::Job job = job_with(6, 20, 50);
  const mesh::Mesh block = prism({{0, 0}, {0, 20}, {40, 20}, {40, 0}}, {{0, 1, 2}, {0, 2, 3}}, 30);
  EXPECT_EQ(affordable_step(job, block, 0.25, 1e9), 0.25);
  job.tools.push_back(job.tools.front());
  job.tools.back().number = 2;
  job.tools.back().diameter = 1000;
  job::Setup side;
  side.name = "B";
  side.turn = {{job::Axis::y, 90}};
  job.setups.push_back(side);
  const double step = affordable_step(job, block, 0.25, 1e9);
  const double points = (1040.0 * 1030 + 1020.0 * 1030) / (step * step);
  const double spots = pi / 4 * (1000.0 * 1000 + 36) / (step * step);
  EXPECT_NEAR(points * spots, 1e9, 1e3);
  EXPECT_EQ(affordable_step(job, block, 10, 1e9), 10);
}

}  // namespace
}  // namespace proveout::reach
