// Edges of the stock's surface against closed forms: bodies of flat, ball and vee tools moved
// straight and level, seen straight and turned against the grid by 17 degrees about z and by 30
// about x.
#include "report/page/build/crisp.h"

#include <gtest/gtest.h>
#include <tbb/global_control.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "report/mesh/simplify.h"
#include "report/page/build/stock_surface.h"
#include "report/page/build/surface_error.h"
#include "sim/measure/measure.h"
#include "sim/solid/part_distance.h"

namespace proveout::page {
namespace {

struct Pass {
  job::ToolShape shape;
  double diameter;  // mm; a vee's is at its top, its angle 90 degrees
  Vec3 start, end;  // of the tip, setup frame
};

job::Tool tool_of(const Pass& pass, int number) {
  job::Tool tool;
  tool.number = number;
  tool.shape = pass.shape;
  tool.diameter = pass.diameter;
  tool.stickout = tool.flute_length = 30;
  tool.tip_angle = 90;
  return tool;
}

// Below 0 in a pass's swept body; where it is 0 it is the body's face. Euclid's distance to a
// cylinder's and a cone's faces, and to a ball's.
double swept(const Pass& pass, const Vec3& p) {
  const double dx = pass.end.x() - pass.start.x(), dy = pass.end.y() - pass.start.y();
  const double length = std::hypot(dx, dy);
  const double along = std::clamp(
      ((p.x() - pass.start.x()) * dx + (p.y() - pass.start.y()) * dy) / (length * length), 0.0,
      1.0);
  const double rho =
      std::hypot(p.x() - pass.start.x() - along * dx, p.y() - pass.start.y() - along * dy);
  const double h = p.z() - pass.start.z(), r = 0.5 * pass.diameter;
  if (pass.shape == job::ToolShape::flat) return std::max(rho - r, -h);
  if (pass.shape == job::ToolShape::ball) return h > r ? rho - r : std::hypot(rho, h - r) - r;
  return std::max((rho - h) / std::sqrt(2.0), rho - r);
}

struct Scene {
  Box3 blank;
  std::vector<Pass> passes;
  RigidMotion stock_from_setup = RigidMotion::Identity();
  double voxel = 0.2;
  double blank_distance(const Vec3& p) const {
    const Vec3 q = (p - blank.center()).cwiseAbs() - 0.5 * blank.sizes();
    return q.maxCoeff();
  }
  // Negative in material.
  double at(const Vec3& p) const {
    double f = blank_distance(p);
    const Vec3 q = stock_from_setup.inverse() * p;
    for (const Pass& pass : passes) f = std::max(f, -swept(pass, q));
    return f;
  }
};

struct Made {
  Surface crisp, rounded;
  SurfaceError crisp_error, rounded_error;
};

enum class Also : std::uint8_t { nothing, keep_one_piece, error };

Made surfaces(const Scene& scene, Also also = Also::nothing) {
  stock::Stock stock = stock::Stock::box(scene.blank.max(), scene.voxel);
  std::vector<solid::ToolBody> bodies;
  std::vector<nc::Motion> motions;
  for (std::size_t i = 0; i < scene.passes.size(); ++i) {
    bodies.push_back(solid::make_tool_body(tool_of(scene.passes[i], static_cast<int>(i))));
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.start = scene.passes[i].start;
    m.end = scene.passes[i].end;
    m.line = static_cast<std::uint32_t>(i + 1);
    m.feed = 500;
    motions.push_back(m);
  }
  std::vector<stock::ToolRun> runs;
  for (std::size_t i = 0; i < bodies.size(); ++i)
    runs.push_back({static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(i + 1), &bodies[i]});
  stock.cut(motions, runs, scene.stock_from_setup, 1, {});
  if (also == Also::keep_one_piece) measure::keep_one_piece(stock, nullptr);
  const stock::BlankShape blank{scene.blank};
  const std::vector<stock::SetupMotions> setups{{motions, runs, scene.stock_from_setup, 1}};
  Box3 region = scene.blank;
  region.min().array() -= 2;
  region.max().array() += 2;
  const stock::ExactStock exact(blank, setups, region, 32 * scene.voxel);
  Made made{stock_surface(stock, nullptr, 4'000'000, &exact),
            stock_surface(stock, nullptr, 4'000'000),
            {},
            {}};
  if (also != Also::error) return made;
  constexpr double no_list = std::numeric_limits<double>::infinity();
  made.crisp_error = surface_error(stock, made.crisp, no_list, &exact);
  made.rounded_error = surface_error(stock, made.rounded, no_list, &exact);
  return made;
}

struct Off {
  double vertex = 0, middle = 0, mean = 0;  // mm
  double over_hundredth = 0;                // share of triangles whose middle is
};

Vec3 corner(const Surface& s, std::size_t v) {
  return {s.vertices[3 * v], s.vertices[3 * v + 1], s.vertices[3 * v + 2]};
}

Off off(const Surface& s, const Scene& scene) {
  Off o;
  for (std::uint32_t v = 0; v < s.vertices.size() / 3; ++v)
    o.vertex = std::max(o.vertex, std::abs(scene.at(corner(s, v))));
  const std::size_t triangles = s.triangles.size() / 3;
  for (std::size_t t = 0; t < triangles; ++t) {
    const Vec3 middle = (corner(s, s.triangles[3 * t]) + corner(s, s.triangles[3 * t + 1]) +
                         corner(s, s.triangles[3 * t + 2])) /
                        3;
    const double away = std::abs(scene.at(middle));
    o.middle = std::max(o.middle, away);
    o.mean += away / static_cast<double>(triangles);
    o.over_hundredth += away > 0.01 ? 1.0 / static_cast<double>(triangles) : 0;
  }
  return o;
}

std::vector<RigidMotion> turns() {
  std::vector<RigidMotion> out(3, RigidMotion::Identity());
  const Vec3 about(15, 12, 8);
  const auto turned = [&](const Vec3& axis, double degrees) {
    RigidMotion t = RigidMotion::Identity();
    t.translate(about);
    t.rotate(Eigen::AngleAxisd(degrees * 3.14159265358979 / 180, axis));
    t.translate(-about);
    return t;
  };
  out[1] = turned(Vec3::UnitZ(), 17);
  out[2] = turned(Vec3::UnitX(), 30);
  return out;
}

Scene scene(std::vector<Pass> passes, const RigidMotion& turn, double voxel) {
  return {Box3(Vec3::Zero(), Vec3(30, 24, 16)), std::move(passes), turn, voxel};
}

// Triangles with two corners at one place, which readers of STL files take out.
std::size_t same_places(const Surface& s) {
  std::size_t count = 0;
  for (std::size_t t = 0; t + 2 < s.triangles.size(); t += 3) {
    const Vec3 a = corner(s, s.triangles[t]), b = corner(s, s.triangles[t + 1]),
               c = corner(s, s.triangles[t + 2]);
    count += a == b || b == c || c == a ? 1 : 0;
  }
  return count;
}

struct Case {
  const char* name;
  std::vector<Pass> passes;
};

std::vector<Case> cases() {
  using job::ToolShape;
  return {{"pocket", {{ToolShape::flat, 6, {8, 12, 10}, {22, 12, 10}}}},
          {"ball groove", {{ToolShape::ball, 6, {-20, 12, 9}, {50, 12, 9}}}},
          {"ball groove and slot across",
           {{ToolShape::ball, 6, {-20, 12, 9}, {50, 12, 9}},
            {ToolShape::flat, 4, {15, -20, 11}, {15, 40, 11}}}},
          {"vee groove", {{ToolShape::vee, 8, {-20, 12, 11}, {50, 12, 11}}}},
          {"two steps",
           {{ToolShape::flat, 10, {-20, 8, 9.3}, {50, 8, 9.3}},
            {ToolShape::flat, 8, {-20, 16, 10.51}, {50, 16, 10.51}}}}};
}

// Vertices lie on the surface but for what a ball's sagitta over a voxel is (voxel^2 / 8 R, 0.0067
// at 0.4 mm and R = 3); what of a mesh of that many triangles is further off is where material is
// thinner than a voxel.
TEST(CrispSurface, LiesOnTheMotionsOwnSurface) {
  for (const Case& c : cases()) {
    for (const double voxel : {0.2, 0.4}) {
      for (const RigidMotion& turn : turns()) {
        const Scene s = scene(c.passes, turn, voxel);
        const Made made = surfaces(s);
        const Off crisp = off(made.crisp, s), rounded = off(made.rounded, s);
        SCOPED_TRACE(std::string(c.name) + " voxel " + std::to_string(voxel) + " turned by " +
                     std::to_string(Eigen::AngleAxisd(turn.linear()).angle()));
        EXPECT_TRUE(mesh_files::closed(made.crisp));
        EXPECT_LE(same_places(made.crisp), same_places(made.rounded));
        EXPECT_LT(crisp.vertex, 0.0075);
        EXPECT_GT(rounded.vertex, 0.05);  // the twin without the motions: edges are rounded
        EXPECT_LT(crisp.mean, 0.25 * rounded.mean);
        EXPECT_LT(crisp.over_hundredth, 0.3 * rounded.over_hundredth);
        EXPECT_LT(crisp.middle, 0.6 * voxel);
      }
    }
  }
}

// Distance of places on a known edge from the mesh.
double furthest_of_edge(const Surface& surface, const Vec3& from, const Vec3& to) {
  mesh::Mesh mesh;
  for (std::uint32_t v = 0; v < surface.vertices.size() / 3; ++v)
    mesh.vertices.push_back(corner(surface, v));
  for (std::size_t t = 0; t + 2 < surface.triangles.size(); t += 3)
    mesh.triangles.push_back(
        {surface.triangles[t], surface.triangles[t + 1], surface.triangles[t + 2]});
  const solid::PartDistance distance(std::move(mesh));
  double furthest = 0;
  for (int k = 0; k <= 200; ++k)
    furthest = std::max(furthest, std::abs(distance.at(from + (to - from) * (k / 200.0))));
  return furthest;
}

// Turned, a vertex held in its cell may lie a little off an edge that just misses the cell.
TEST(CrispSurface, HasAPocketsEdges) {
  for (const double voxel : {0.2, 0.3}) {
    for (const RigidMotion& turn : {turns()[0], turns()[1]}) {
      const bool straight = turn.linear().isIdentity();
      const Made made =
          surfaces(scene({{job::ToolShape::flat, 6, {8, 12, 10}, {22, 12, 10}}}, turn, voxel));
      for (const double z : {10.0, 16.0}) {
        for (const double y : {9.0, 15.0}) {
          const Vec3 from = turn * Vec3(9, y, z), to = turn * Vec3(21, y, z);
          EXPECT_LT(furthest_of_edge(made.crisp, from, to), straight ? 0.002 : 0.015)
              << voxel << ' ' << y << ' ' << z;
          EXPECT_GT(furthest_of_edge(made.rounded, from, to), 0.02)
              << voxel << ' ' << y << ' ' << z;
        }
      }
    }
  }
}

// A block cut through at x = 15: what fell off has no surface, although no motion took it.
TEST(CrispSurface, WhatFellOffStaysAway) {
  Scene s = scene({{job::ToolShape::flat, 4, {15, -10, -1}, {15, 40, -1}}}, turns()[0], 0.25);
  const Made made = surfaces(s, Also::keep_one_piece);
  double volume = 0, most = 0, least = 1e9;
  for (std::size_t t = 0; t + 2 < made.crisp.triangles.size(); t += 3) {
    const Vec3 a = corner(made.crisp, made.crisp.triangles[t]),
               b = corner(made.crisp, made.crisp.triangles[t + 1]),
               c = corner(made.crisp, made.crisp.triangles[t + 2]);
    volume += a.dot(b.cross(c)) / 6;
    most = std::max(most, a.x());
    least = std::min(least, a.x());
  }
  EXPECT_NEAR(volume, 13 * 24 * 16, 0.002 * 13 * 24 * 16);
  EXPECT_NEAR(most - least, 13, 0.01);
}

TEST(CrispSurface, IsTheSameForAnyNumberOfThreads) {
  const Scene s = scene(cases()[2].passes, turns()[2], 0.4);
  const Made many = surfaces(s);
  const tbb::global_control one(tbb::global_control::max_allowed_parallelism, 1);
  const Made alone = surfaces(s);
  EXPECT_EQ(many.crisp.vertices, alone.crisp.vertices);
  EXPECT_EQ(many.crisp.triangles, alone.crisp.triangles);
}

// What the mesh is said to be off by is held against the motions: a mesh with rounded edges is told
// to be, one with true edges is not.
TEST(CrispSurface, TellsHowFarAMeshIsOff) {
  const Scene s = scene(cases()[0].passes, turns()[1], 0.2);
  const Made made = surfaces(s, Also::error);
  EXPECT_LT(made.crisp_error.furthest, 0.02);
  EXPECT_GT(made.rounded_error.furthest, 0.06);
}

}  // namespace
}  // namespace proveout::page
