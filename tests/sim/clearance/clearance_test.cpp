// Clearances against closed forms and a brute-force twin that knows nothing of columns: a cloud of
// material points, thinned as the cutter passes.
#include "sim/clearance/clearance.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "sim/measure/measure.h"
#include "sim/stock/stock.h"

namespace proveout::clearance {
namespace {

job::Tool flat_tool(double diameter, double flute_length, double stickout, double holder) {
  job::Tool t;
  t.number = 1;
  t.shape = job::ToolShape::flat;
  t.diameter = diameter;
  t.flute_length = flute_length;
  t.stickout = stickout;
  t.shank_diameter = diameter;
  if (holder > 0) t.holder = {{holder, 20.0}};
  return t;
}

nc::Motion straight(const Vec3& a, const Vec3& b, std::uint32_t line, bool rapid = false) {
  nc::Motion m;
  m.start = a;
  m.end = b;
  m.kind = rapid ? nc::PathKind::rapid : nc::PathKind::line;
  m.line = line;
  return m;
}

nc::Program program_of(std::vector<nc::Motion> motions) {
  nc::Program p;
  nc::ModalState state;
  state.tool = 1;
  p.states = {state};
  p.motions = std::move(motions);
  return p;
}

ColumnMap columns_of(const stock::Stock& stock, double cell = 0) {
  return ColumnMap(measure::column_tops(stock, RigidMotion::Identity(), cell), 0);
}

struct Cloud {  // material points, spacing apart, and their distance to upright cylinders
  std::vector<Vec3> points;
  static double to_cylinder(const Vec3& p, const Vec3& tip, double radius, double low,
                            double high) {
    const double rho = std::hypot(p.x() - tip.x(), p.y() - tip.y());
    const double z = p.z() - tip.z();
    return std::hypot(std::max(0.0, rho - radius), std::max({0.0, low - z, z - high}));
  }
};

std::map<int, solid::ToolBody> bodies_of(const job::Tool& t) {
  return {{1, solid::make_tool_body(t)}};
}

// Plane geometry of a cylinder and of a cone against the corner of a step.
TEST(Clearance, GapOfACylinderAndAConeAgainstACorner) {
  Outline cylinder;
  cylinder.add({0, 30, 10, 30});
  cylinder.add({10, 30, 10, 50});
  cylinder.add({10, 50, 0, 50});
  EXPECT_DOUBLE_EQ(gap(cylinder, 13, 40), 3);  // beside a wall that is higher
  EXPECT_DOUBLE_EQ(gap(cylinder, 5, 26), 4);   // over a floor
  EXPECT_DOUBLE_EQ(gap(cylinder, 13, 26), 5);  // edge to edge: 3, 4, 5
  EXPECT_DOUBLE_EQ(gap(cylinder, 9, 31), 0);   // overlapping
  Outline cone;  // radius 2 at height 10, 12 at height 30: half angle atan(1/2)
  cone.add({0, 10, 2, 10});
  cone.add({2, 10, 12, 30});
  cone.add({12, 30, 0, 30});
  // Distance from the corner (radius 10, height 20) to the flank r = 2 + (z - 10) / 2: at height 20
  // the flank has radius 7, so 3 cos(atan 1/2) = 6 / sqrt 5.
  EXPECT_NEAR(gap(cone, 10, 20), 6 / std::sqrt(5.0), 1e-12);
}

// In words the least of each body counts, over stock, part and fixtures, feeds and rapids, and is
// rounded down: 0.39 is no 0.4.
TEST(Clearance, InWordsNothingIsRoundedUp) {
  ToolClearance c;
  EXPECT_EQ(in_words(c), "");
  const auto set = [&](Mover m, Obstacle o, bool rapid, double mm, std::uint32_t line) {
    Nearest& n = c.nearest[static_cast<int>(m)][static_cast<int>(o)][rapid ? 1 : 0];
    n.mm = mm;
    n.line = line;
  };
  set(Mover::holder, Obstacle::stock, false, 7.3, 4);
  set(Mover::holder, Obstacle::fixture, true, 7.29, 9);
  set(Mover::shank, Obstacle::stock, false, 0.39, 12);
  set(Mover::shank, Obstacle::part, true, 5, 13);
  EXPECT_EQ(in_words(c), "shank 0.3 (line 12), holder 7.2 (line 9)");
  EXPECT_EQ(c.worst(Mover::holder).line, 9u);
  EXPECT_FALSE(c.worst(Mover::nose).found());
  set(Mover::nose, Obstacle::fixture, false, 0, 20);
  EXPECT_EQ(in_words(c), "shank 0.3 (line 12), holder 7.2 (line 9), nose 0.0 (line 20)");
}

TEST(Clearance, HolderBesideAStep) {
  const double wall = 30.07, floor = 5.03, top = 20;
  for (double voxel : {0.2, 0.4}) {
    stock::Stock stock = stock::Stock::box({60, 40, top}, voxel);
    const Box3 away[] = {Box3(Vec3(-5, -5, floor), Vec3(wall, 45, 30))};
    measure::remove_boxes(stock, away);
    ClearanceTracker tracker(columns_of(stock), nullptr, {}, bodies_of(flat_tool(6, 4, 10, 20)),
                             {{60, 30}});
    const double x = 15, z = 6;
    const auto out = tracker.follow(program_of({straight({x, 10, z}, {x, 30, z}, 7)}));
    const Nearest& side = out.at(1).of(Mover::holder, Obstacle::stock, false);
    EXPECT_EQ(side.line, 7u);
    EXPECT_LE(side.mm, wall - x - 10 + 1e-6) << voxel;
    EXPECT_GE(side.mm, wall - x - 10 - tracker.resolution_mm()) << voxel;
    // The nose, 60 mm wide, stands over the step: its underside is 30 above the tip.
    const Nearest& nose = out.at(1).of(Mover::nose, Obstacle::stock, false);
    EXPECT_NEAR(nose.mm, z + 30 - top, 0.05 * voxel);
    EXPECT_LE(out.at(1).of(Mover::shank, Obstacle::stock, false).mm, z + 4 - floor + 1e-6);
    EXPECT_FALSE(out.at(1).of(Mover::holder, Obstacle::stock, true).found());
  }
}

TEST(Clearance, HolderOverAFlatOnARapidFromAbove) {
  const stock::Stock stock = stock::Stock::box({40, 40, 20}, 0.3);
  ClearanceTracker tracker(columns_of(stock), nullptr, {}, bodies_of(flat_tool(6, 8, 12, 20)), {});
  const auto out = tracker.follow(program_of({straight({20, 20, 60}, {20, 20, 20.5}, 3, true)}));
  EXPECT_NEAR(out.at(1).of(Mover::holder, Obstacle::stock, true).mm, 12.5, 0.05 * 0.3);
  EXPECT_NEAR(out.at(1).of(Mover::shank, Obstacle::stock, true).mm, 8.5, 0.05 * 0.3);
}

// The same from 100 km above, in pieces of a cell half a billion: only what of the way lies near
// the stock may cost time. And the cutter that goes in meets what it has left, however far it came
// from.
TEST(Clearance, AWayFromFarAway) {
  const stock::Stock stock = stock::Stock::box({40, 40, 20}, 0.2);
  for (const double from : {60.0, 1e8}) {
    ClearanceTracker tracker(columns_of(stock), nullptr, {}, bodies_of(flat_tool(6, 8, 12, 20)),
                             {});
    const auto out = tracker.follow(program_of({straight({20, 20, from}, {20, 20, 20.5}, 3, true),
                                                straight({20, 20, 20.5}, {20, 20, 15}, 4),
                                                straight({20, 20, 15}, {20, 20, from}, 5, true)}));
    EXPECT_NEAR(out.at(1).of(Mover::holder, Obstacle::stock, true).mm, 7, 0.01) << from;
    EXPECT_EQ(out.at(1).of(Mover::holder, Obstacle::stock, true).line, 5u) << from;
    EXPECT_NEAR(out.at(1).of(Mover::holder, Obstacle::stock, false).mm, 7, 0.01) << from;
    EXPECT_NEAR(out.at(1).of(Mover::shank, Obstacle::stock, false).mm, 3, 0.01) << from;
  }
}

// A conical shank beside the upper edge of a step: the figure of the plane case above.
TEST(Clearance, ConicalShankBesideAStep) {
  const double wall = 30, top = 20, voxel = 0.2;
  stock::Stock stock = stock::Stock::box({60, 40, top}, voxel);
  const Box3 away[] = {Box3(Vec3(-5, -5, 5), Vec3(wall, 45, 30))};
  measure::remove_boxes(stock, away);
  auto bodies = bodies_of(flat_tool(4, 4, 4, 0));
  solid::Body cone;
  cone.role = solid::Role::shank;
  cone.bottom = 4;
  cone.top = 24;
  cone.largest_radius = 12;
  const solid::ProfilePoint a{0, 4}, b{2, 4}, c{12, 24}, d{0, 24};
  for (const auto& [from, to] : {std::pair{a, b}, std::pair{b, c}, std::pair{c, d}}) {
    solid::ProfileSegment piece;
    piece.from = from;
    piece.to = to;
    cone.meridian.push_back(piece);
  }
  bodies.at(1).shank = {cone};
  ClearanceTracker tracker(columns_of(stock), nullptr, {}, bodies, {});
  // Tip at height 6, 10 from the wall: the edge is at radius 10, height 14 above the tip.
  const auto out = tracker.follow(program_of({straight({20, 10, 6}, {20, 30, 6}, 1)}));
  const double truth = 6 / std::sqrt(5.0);
  const double found = out.at(1).of(Mover::shank, Obstacle::stock, false).mm;
  EXPECT_LE(found, truth + 1e-6);
  EXPECT_GE(found, truth - tracker.resolution_mm());
}

// Columns never stand lower than the material, wherever walls and tops lie between voxels.
TEST(Clearance, ColumnTopsCoverTheMaterial) {
  std::mt19937 random(20240611);
  std::uniform_real_distribution<double> off(0, 1);
  for (int round = 0; round < 20; ++round) {
    const double voxel = 0.5;
    const Vec3 size(10 + off(random), 8 + off(random), 6 + off(random));
    const stock::Stock stock = stock::Stock::box(size, voxel);
    const RigidMotion turn(Eigen::AngleAxisd(pi / 2 * (round % 4), Vec3::UnitZ()));
    const measure::HeightMap map = measure::column_tops(stock, turn, voxel);
    const Vec3 corner = turn * size;
    for (double sx : {0.001, 0.3, 0.5, 0.999}) {
      for (double sy : {0.001, 0.4, 0.999}) {
        const double x = sx * corner.x(), y = sy * corner.y();
        const int i = static_cast<int>(std::floor((x - map.x0) / map.cell));
        const int j = static_cast<int>(std::floor((y - map.y0) / map.cell));
        ASSERT_TRUE(i >= 0 && j >= 0 && i < map.columns && j < map.rows);
        EXPECT_GE(map.at(i, j), size.z() - 1e-4) << "round " << round << " " << sx << " " << sy;
        EXPECT_LE(map.at(i, j), size.z() + 0.05 * voxel) << "round " << round;
      }
    }
  }
}

TEST(Clearance, BruteForceTwin) {
  constexpr double spacing = 0.4;
  for (unsigned seed = 1; seed <= 6; ++seed) {
    std::mt19937 random(seed);
    const auto draw = [&](double a, double b) {
      return std::uniform_real_distribution<double>(a, b)(random);
    };
    const Vec3 size(16, 14, 8);
    Cloud cloud;
    for (double x = spacing / 2; x < size.x(); x += spacing)
      for (double y = spacing / 2; y < size.y(); y += spacing)
        for (double z = spacing / 2; z < size.z(); z += spacing) cloud.points.emplace_back(x, y, z);
    job::Tool t = flat_tool(draw(2, 5), draw(1, 4), draw(6, 9), draw(8, 14));
    t.shank_diameter = t.diameter * draw(0.5, 0.9);
    if (seed % 2 == 0) t.shape = job::ToolShape::ball;
    if (t.shape == job::ToolShape::ball) t.flute_length += t.diameter / 2;
    ColumnMap map(Box3(Vec3::Zero(), size), 0.2, 0);
    for (int i = 0; i < map.columns(); ++i)
      for (int j = 0; j < map.rows(); ++j) map.raise(0.2 * (i + 0.5), 0.2 * (j + 0.5), size.z());
    map.build_tree();
    std::vector<nc::Motion> motions;
    Vec3 at(draw(0, 16), draw(0, 14), 12);
    for (std::uint32_t line = 1; line <= 7; ++line) {
      Vec3 next(draw(-2, 18), draw(-2, 16), draw(3, 9));
      if (line % 3 == 1) next = Vec3(at.x(), at.y(), draw(3, 8));  // plunge
      if (line % 3 == 2) next.z() = at.z();                        // level
      motions.push_back(straight(at, next, line));
      at = next;
    }
    ClearanceTracker tracker(std::move(map), nullptr, {}, bodies_of(t), {});
    const auto out = tracker.follow(program_of(motions));
    double shank = 1e9, holder = 1e9;
    const double r = t.diameter / 2;
    for (const nc::Motion& m : motions) {
      const int steps = static_cast<int>(nc::length(m) / 0.1) + 1;
      for (int k = 0; k <= steps; ++k) {
        const Vec3 tip = nc::point_at(m, double(k) / steps);
        std::erase_if(cloud.points, [&](const Vec3& p) {
          const double rho = std::hypot(p.x() - tip.x(), p.y() - tip.y()), z = p.z() - tip.z();
          const double low =
              t.shape == job::ToolShape::ball ? r - std::sqrt(std::max(0.0, r * r - rho * rho)) : 0;
          if (rho < r && z > low && z < t.flute_length) return true;
          shank = std::min(
              shank, Cloud::to_cylinder(p, tip, t.shank_diameter / 2, t.flute_length, t.stickout));
          holder = std::min(holder, Cloud::to_cylinder(p, tip, t.holder[0].first / 2, t.stickout,
                                                       t.stickout + t.holder[0].second));
          return false;
        });
      }
    }
    const std::string words = "seed " + std::to_string(seed) + " diameter " +
                              std::to_string(t.diameter) + " flutes " +
                              std::to_string(t.flute_length);
    const double slack = tracker.resolution_mm() + spacing;
    for (const auto& [mover, truth] :
         {std::pair{Mover::shank, shank}, std::pair{Mover::holder, holder}}) {
      const double found = out.at(1).of(mover, Obstacle::stock, false).mm;
      EXPECT_LE(found, truth + 0.06) << name(mover) << " " << words;  // for the steps
      EXPECT_GE(found, truth - slack) << name(mover) << " " << words;
    }
  }
}

// The tree finds what a walk over every column finds.
TEST(Clearance, TreeAgainstEveryColumn) {
  for (unsigned seed = 1; seed <= 40; ++seed) {
    std::mt19937 random(seed);
    const auto draw = [&](double a, double b) {
      return std::uniform_real_distribution<double>(a, b)(random);
    };
    ColumnMap map(Box3(Vec3(-3, 2, 0), Vec3(draw(0, 9), draw(5, 12), 0)), draw(0.3, 0.8), 0.1);
    for (int i = 0; i < map.columns(); ++i)
      for (int j = 0; j < map.rows(); ++j)
        if (draw(0, 1) < 0.7)
          map.raise(-3 + (i + 0.5) * map.cell(), 2 + (j + 0.5) * map.cell(), draw(-5, 5));
    map.build_tree();
    Outline body;
    const double r = draw(0.5, 4), low = draw(0, 4);
    body.add({0, low, r, low});
    body.add({r, low, r * draw(0.5, 2), low + 6});
    const Vec3 a(draw(-6, 10), draw(0, 12), draw(0, 8)), b(draw(-6, 10), draw(0, 12), a.z());
    double truth = 1e9;
    const double c = map.cell();
    for (int i = 0; i < map.columns(); ++i) {
      for (int j = 0; j < map.rows(); ++j) {
        if (map.at(i, j) < -1e8f) continue;
        const double x = -3 + i * c, y = 2 + j * c;
        double rho = 1e9;  // by many points of the way
        for (int k = 0; k <= 2000; ++k) {
          const Vec3 p = a + (b - a) * (k / 2000.0);
          rho = std::min(rho, std::hypot(std::max({x - p.x(), 0.0, p.x() - x - c}),
                                         std::max({y - p.y(), 0.0, p.y() - y - c})));
        }
        truth = std::min(truth, gap(body, std::max(0.0, rho - 0.1), map.at(i, j) - a.z()));
      }
    }
    EXPECT_NEAR(map.nearest(body, a, b, 1e9), truth, 0.01) << "seed " << seed;
    EXPECT_LE(map.nearest(body, a, b, 1e9), truth + 1e-9) << "seed " << seed;
  }
}

TEST(Clearance, FixtureBoxAndTheSameBoxAsAMesh) {
  const Box3 box(Vec3(10, 0, -5), Vec3(20, 30, 8));
  mesh::Mesh mesh;
  for (int c = 0; c < 8; ++c) mesh.vertices.push_back(box.corner(Box3::CornerType(c)));
  mesh.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                    {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
  auto map = std::make_shared<ColumnMap>(box, 0.25, 0);
  map->raise(mesh);
  map->build_tree();
  EXPECT_NEAR(map->highest(), 8, 1e-5);
  const Barrier plain{"clamp", box, nullptr}, meshed{"clamp", box, map};
  const Outline holder =
      ToolShapes(solid::make_tool_body(flat_tool(6, 8, 12, 20))).outline[int(Mover::holder)];
  for (const Vec3& tip : {Vec3(-2, 10, 0), Vec3(0, 40, -3), Vec3(15, 15, 3), Vec3(-5, 15, -6)}) {
    const Vec3 end = tip + Vec3(1, 2, 0);
    EXPECT_NEAR(plain.nearest(holder, tip, end, 1e9), meshed.nearest(holder, tip, end, 1e9), 1e-5);
  }
}

}  // namespace
}  // namespace proveout::clearance
