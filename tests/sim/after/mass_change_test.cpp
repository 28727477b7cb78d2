// Floors, walls and faces for a target mass, against a box with a pocket worked by hand and against
// the volume of the mesh once it is moved.
#include "sim/after/mass_change.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "parser/mesh/mesh.h"

namespace proveout::after {
namespace {

// Box 40 x 30 x 12 with a pocket [10, 30] x [10, 20] down to z = 5. mm.
mesh::Mesh pocketed(double floor = 5, double right = 30) {
  mesh::Mesh m;
  const auto ring = [&](double x0, double y0, double x1, double y1, double z) {
    m.vertices.insert(m.vertices.end(), {{x0, y0, z}, {x1, y0, z}, {x1, y1, z}, {x0, y1, z}});
  };
  ring(0, 0, 40, 30, 0);
  ring(0, 0, 40, 30, 12);
  ring(10, 10, right, 20, 12);
  ring(10, 10, right, 20, floor);
  const auto quad = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c, std::uint32_t d) {
    m.triangles.push_back({a, b, c});
    m.triangles.push_back({a, c, d});
  };
  quad(0, 3, 2, 1);
  quad(12, 13, 14, 15);
  for (std::uint32_t k = 0; k < 4; ++k) {
    const std::uint32_t n = (k + 1) % 4;
    quad(k, n, 4 + n, 4 + k);            // outside
    quad(4 + k, 4 + n, 8 + n, 8 + k);    // rim
    quad(8 + k, 8 + n, 12 + n, 12 + k);  // pocket's wall
  }
  return m;
}

const MassFace* at_height(const std::vector<MassFace>& all, FaceKind kind, double z) {
  const auto found = std::find_if(all.begin(), all.end(), [&](const MassFace& f) {
    return f.kind == kind && std::abs(f.at.z() - z) < 1e-9;
  });
  return found == all.end() ? nullptr : &*found;
}

const MassFace* facing(const std::vector<MassFace>& all, const Vec3& normal, double area) {
  const auto found = std::find_if(all.begin(), all.end(), [&](const MassFace& f) {
    return (f.normal - normal).norm() < 1e-9 && std::abs(f.area_mm2 - area) < 1e-6;
  });
  return found == all.end() ? nullptr : &*found;
}

constexpr double density = 2.7;  // g/cm3
const Box3 blank(Vec3(-3, 0, 0), Vec3(44, 30, 12.5));

TEST(MassChange, TheMeshIsTheBoxLessThePocket) {
  EXPECT_NEAR(mesh::mass_of(pocketed()).volume, 40 * 30 * 12 - 20 * 10 * 7, 1e-9);
}

// Floor 20 x 10: 200 mm2 x 2.7 = 0.54 g a mm. 1.08 g missing: 2 mm shallower, the web 5 + 2.
TEST(MassChange, AFloorIsItsAreaTimesTheDensity) {
  const solid::PartDistance part(pocketed());
  const auto all = mass_faces(part, {Vec3::UnitZ()}, blank, density, 1.08);
  const MassFace* floor = at_height(all, FaceKind::floor, 5);
  ASSERT_NE(floor, nullptr);
  EXPECT_NEAR(floor->area_mm2, 200, 1e-9);
  EXPECT_NEAR(floor->g_per_mm, 0.54, 1e-12);
  EXPECT_NEAR(floor->mm, 2, 1e-9);
  EXPECT_NEAR(floor->depth, 7, 1e-9);
  EXPECT_NEAR(floor->web, 5, 5e-3);
  EXPECT_NEAR(floor->web_after, 7, 5e-3);
  EXPECT_TRUE(floor->within_reach);
}

TEST(MassChange, WallsAndFacesToo) {
  const solid::PartDistance part(pocketed());
  const auto all = mass_faces(part, {Vec3::UnitZ(), -Vec3::UnitZ()}, blank, density, -3.24);
  EXPECT_EQ(all.size(), 11u);  // bottom, rim, floor, four walls outside and four inside
  const MassFace* bottom = at_height(all, FaceKind::face, 0);
  ASSERT_NE(bottom, nullptr);
  EXPECT_NEAR(bottom->area_mm2, 1200, 1e-9);
  EXPECT_NEAR(bottom->mm, -1, 1e-9);  // 3.24 g a mm
  EXPECT_NEAR(bottom->web, 5, 5e-3);  // under the pocket
  EXPECT_NEAR(bottom->web_after, 4, 5e-3);
  const MassFace* rim = at_height(all, FaceKind::face, 12);
  ASSERT_NE(rim, nullptr);
  EXPECT_NEAR(rim->area_mm2, 1000, 1e-9);
  EXPECT_NEAR(rim->web, 12, 5e-3);
  const MassFace* inside = facing(all, -Vec3::UnitX(), 70);  // of the pocket at x = 30
  ASSERT_NE(inside, nullptr);
  EXPECT_EQ(inside->kind, FaceKind::wall);
  EXPECT_NEAR(inside->web, 10, 5e-3);
  const MassFace* outside = facing(all, -Vec3::UnitX(), 360);
  ASSERT_NE(outside, nullptr);
  EXPECT_EQ(outside->kind, FaceKind::wall);
  EXPECT_NEAR(outside->web, 10, 5e-3);  // beside the pocket
}

// 3.24 g out of the floor alone is 6 mm, and only 5 stand there; onto it 6 mm go, but not 8.
TEST(MassChange, WhatCannotBeIsSaidSo) {
  const solid::PartDistance part(pocketed());
  const auto floor = [&](double missing) {
    return *at_height(mass_faces(part, {Vec3::UnitZ()}, blank, density, missing), FaceKind::floor,
                      5);
  };
  EXPECT_FALSE(floor(-3.24).within_reach);
  EXPECT_TRUE(floor(3.24).within_reach);
  EXPECT_FALSE(floor(4.32).within_reach);
}

// Outwards only within the blank, and short of the wall across: 3 mm before the part's left, 4
// before its right, 0.5 above, none below; 20 and 10 across the pocket.
TEST(MassChange, OutwardsAsFarAsThereIsRoom) {
  const solid::PartDistance part(pocketed());
  const auto all = [&](double missing) {
    return mass_faces(part, {Vec3::UnitZ()}, blank, density, missing);
  };
  const auto near = all(0.5);
  EXPECT_NEAR(facing(near, -Vec3::UnitX(), 360)->room, 3, 5e-3);
  EXPECT_NEAR(facing(near, Vec3::UnitX(), 360)->room, 4, 5e-3);
  EXPECT_NEAR(at_height(near, FaceKind::face, 12)->room, 0.5, 5e-3);
  EXPECT_NEAR(at_height(near, FaceKind::face, 0)->room, 0, 5e-3);
  // Half of what the pocket is wide: its walls may close in from both sides.
  EXPECT_NEAR(facing(near, Vec3::UnitX(), 70)->room, 10, 5e-3);
  EXPECT_NEAR(facing(near, Vec3::UnitY(), 140)->room, 5, 5e-3);
  EXPECT_NEAR(at_height(near, FaceKind::floor, 5)->room, 7.5, 5e-3);
  // 0.972 g a mm on the left: 3.5 mm are too far there, and not on the right.
  const auto far = all(3.5 * 0.972);
  EXPECT_FALSE(facing(far, -Vec3::UnitX(), 360)->within_reach);
  EXPECT_TRUE(facing(far, Vec3::UnitX(), 360)->within_reach);
  EXPECT_FALSE(at_height(far, FaceKind::face, 0)->within_reach);
  EXPECT_FALSE(at_height(far, FaceKind::face, 12)->within_reach);
  // 0.189 g a mm on the pocket's wall of 70 mm2: 9.5 mm of the 10 that are its half of the way to
  // the other, and 10.6 of them.
  EXPECT_TRUE(facing(all(1.8), Vec3::UnitX(), 70)->within_reach);
  EXPECT_FALSE(facing(all(2), Vec3::UnitX(), 70)->within_reach);
}

// Followed: the mesh with its floor, or a wall, moved by what is said weighs what was asked.
TEST(MassChange, MovedAsSaidThePartWeighsTheTarget) {
  const double before = mesh::mass_of(pocketed()).volume * density / 1000;
  const solid::PartDistance part(pocketed());
  for (const double missing : {0.9, -0.37, 1.7}) {
    const auto all = mass_faces(part, {Vec3::UnitZ()}, blank, density, missing);
    const MassFace* floor = at_height(all, FaceKind::floor, 5);
    ASSERT_NE(floor, nullptr);
    EXPECT_NEAR(mesh::mass_of(pocketed(5 + floor->mm)).volume * density / 1000, before + missing,
                1e-9);
    const MassFace* wall = facing(all, -Vec3::UnitX(), 70);
    ASSERT_NE(wall, nullptr);
    EXPECT_NEAR(mesh::mass_of(pocketed(5, 30 - wall->mm)).volume * density / 1000, before + missing,
                1e-9);
  }
}

TEST(MassChange, SlopesAreLeftOut) {
  const solid::PartDistance part(pocketed());
  EXPECT_TRUE(mass_faces(part, {Vec3(1, 1, 1).normalized()}, blank, density, 1).empty());
}

}  // namespace
}  // namespace proveout::after
