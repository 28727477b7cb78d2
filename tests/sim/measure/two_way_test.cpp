// The comparison of stock and part against closed forms. Every case straight and turned against the
// grid by 17 degrees about z and by 30 about x.
#include "sim/measure/two_way.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "compared_scene.h"
#include "extruded_mesh.h"
#include "sim/measure/plane_share.h"

namespace proveout::measure {
namespace {

using job::ToolShape;
using stock::line;
using stock::tool_of;

std::vector<RigidMotion> turns() {
  return {RigidMotion::Identity(), about(Vec3::UnitZ(), 17), about(Vec3::UnitX(), 30)};
}

std::string named(const RigidMotion& turn) {
  const Eigen::AngleAxisd a(turn.linear());
  return a.angle() == 0 ? "straight" : a.axis().z() > 0.5 ? "17 about z" : "30 about x";
}

// Volume and mesh differ by what is left on less what is missing, within the product's own bound.
void expect_closed(const Scene& s, const Compared& c) {
  EXPECT_NEAR(c.volume - c.mesh_volume, c.found.excess_mm3 - c.found.gouge_mm3,
              cross_check_bound(c.found, s.voxel))
      << named(s.turn) << " voxel " << s.voxel;
  EXPECT_EQ(c.found.contradicted_mm3, 0) << named(s.turn) << " voxel " << s.voxel;
  EXPECT_NEAR(c.found.shared_mm3 + c.found.gouge_mm3, c.mesh_volume, 1.2e-3 * c.mesh_volume);
}

Scene faced_to(double z, const RigidMotion& turn, double voxel) {
  Scene s{{0, 0, 0}, {40, 32, 12}, box_mesh({8, 8, 2}, {32, 24, 10}), {}, voxel};
  s.turn = turn;
  s.passes = {{tool_of(ToolShape::flat, 10), passes_along_x(-6, 46, 0, 32, 8, z)}};
  return s;
}

// A part of 24 x 16 x 8 whose blank is faced away below it, with 1 mm left.
TEST(TwoWay, APartFacedAwayIsMissingWhole) {
  for (const RigidMotion& turn : turns()) {
    const Scene s = faced_to(1, turn, 0.5);
    const Compared c = compare_scene(s);
    EXPECT_NEAR(c.found.gouge_mm3, 24 * 16 * 8, 0.003 * 3072) << named(turn);
    EXPECT_NEAR(c.found.gouge_beyond_mm3, 24 * 16 * 8, 0.003 * 3072) << named(turn);
    EXPECT_NEAR(c.found.excess_mm3, 40 * 32 * 1, 0.003 * 1280) << named(turn);
    // The way to the nearest stock is told by the grid's surface: to a twentieth of a voxel.
    EXPECT_NEAR(c.found.worst_gouge, 9, 0.05 * s.voxel) << named(turn);
    EXPECT_NEAR(c.found.worst_gouge_thickness, 8, 0.02) << named(turn);
    ASSERT_EQ(c.found.gouges.size(), 1u) << named(turn);
    EXPECT_GE(c.found.gouges[0].by, 1u);
    EXPECT_LT(c.found.shared_mm3, 1e-6 * 3072);
    expect_closed(s, c);
  }
}

// Faced to half: the deeper the cut, the deeper it reads.
TEST(TwoWay, TheDeeperTheCutTheDeeperItReads) {
  for (const RigidMotion& turn : turns()) {
    for (const double z : {9.5, 8.0, 6.0, 4.0, 3.0}) {
      const Scene s = faced_to(z, turn, 0.4);
      const Compared c = compare_scene(s);
      EXPECT_NEAR(c.found.gouge_mm3, 24 * 16 * (10 - z), 0.003 * 24 * 16 * (10 - z))
          << named(turn) << " " << z;
      EXPECT_NEAR(c.found.worst_gouge, 10 - z, 0.05 * s.voxel) << named(turn) << " " << z;
      EXPECT_NEAR(c.found.worst_gouge_thickness, 10 - z, 0.02) << named(turn) << " " << z;
      EXPECT_EQ(c.found.gouges.size(), 1u) << named(turn) << " " << z;
      expect_closed(s, c);
    }
  }
}

// Cusps of a ball of radius R at steps s: R - sqrt(R^2 - s^2 / 4) high; between two passes the area
// left is s R - (s / 2 sqrt(R^2 - s^2 / 4) + R^2 asin(s / 2 R)) (segment of a circle).
TEST(TwoWay, CuspsOfABall) {
  const double radius = 3, step = 2;
  const double high = radius - std::sqrt(radius * radius - step * step / 4);
  const double area = step * radius - (step / 2 * std::sqrt(radius * radius - step * step / 4) +
                                       radius * radius * std::asin(step / 2 / radius));
  for (const RigidMotion& turn : turns()) {
    for (const double voxel : {0.2, 0.4}) {
      Scene s{{0, 0, 0}, {40, 32, 8}, box_mesh({0, 0, 0}, {40, 32, 6}), {}, voxel};
      s.turn = turn;
      s.passes = {{tool_of(ToolShape::ball, 6), passes_along_x(-6, 46, 0, 32, step, 6)}};
      for (const double tolerance : {0.05, 0.3}) {
        s.excess_tolerance = tolerance;
        const Compared c = compare_scene(s);
        EXPECT_NEAR(c.found.worst_excess, high, 1e-5) << named(turn) << " " << voxel;
        EXPECT_NEAR(c.found.excess_mm3, 16 * area * 40, 0.003 * 16 * area * 40)
            << named(turn) << " " << voxel;
        EXPECT_LT(c.found.worst_gouge, 1e-5) << named(turn) << " " << voxel;
        EXPECT_LT(c.found.gouge_mm3, 0.3) << named(turn) << " " << voxel;
        EXPECT_TRUE(c.found.gouges.empty());
        EXPECT_EQ(c.found.excesses.empty(), tolerance > high);
        expect_closed(s, c);
      }
    }
  }
}

// Grooves of a vee in the part's face, d deep and L long: d^2 tan(half angle) L, and a whole cone
// at its two ends together.
TEST(TwoWay, GroovesOfAVee) {
  for (const RigidMotion& turn : turns()) {
    for (const double angle : {60.0, 90.0}) {
      for (const double depth : {0.02, 0.05, 0.2, 0.5}) {
        for (const double voxel : {0.2, 0.4}) {
          Scene s{{0, 0, 0}, {40, 20, 6}, box_mesh({0, 0, 0}, {40, 20, 6}), {}, voxel};
          s.turn = turn;
          s.gouge_tolerance = 0.01;
          job::Tool vee = tool_of(ToolShape::vee, 6);
          vee.tip_angle = angle;
          s.passes = {{vee, {line({5.03, 9.87, 6 - depth}, {34.11, 9.87, 6 - depth})}}};
          const Compared c = compare_scene(s);
          const double t = std::tan(angle / 2 / deg_per_rad), length = 34.11 - 5.03;
          const double truth = depth * depth * t * length + pi * depth * depth * depth * t * t / 3;
          EXPECT_NEAR(c.found.worst_gouge, depth, 1e-5)
              << named(turn) << " " << angle << " " << depth << " " << voxel;
          // Of what is narrower than its smallest cells the volume is right to a part of theirs.
          const double cell = finest_cell_voxels * voxel;
          EXPECT_NEAR(c.found.gouge_mm3, truth, 0.01 * truth + 0.08 * cell * cell * length)
              << named(turn) << " " << angle << " " << depth << " " << voxel;
          ASSERT_EQ(c.found.gouges.size(), 1u);
          EXPECT_EQ(c.found.gouges[0].by, 1u);
          expect_closed(s, c);
        }
      }
    }
  }
}

// The point of a drill of 118 degrees, pecked into the part's face: a cone.
TEST(TwoWay, PointsOfADrill) {
  for (const RigidMotion& turn : turns()) {
    for (const double depth : {0.02, 0.3, 1.0}) {
      Scene s{{0, 0, 0}, {20, 20, 6}, box_mesh({0, 0, 0}, {20, 20, 6}), {}, 0.2};
      s.turn = turn;
      s.gouge_tolerance = 0.01;
      job::Tool drill = tool_of(ToolShape::drill, 5);
      drill.tip_angle = 118;
      s.passes = {{drill, {line({9.93, 10.07, 9}, {9.93, 10.07, 6 - depth})}}};
      const Compared c = compare_scene(s);
      const double radius = depth * std::tan(59 / deg_per_rad);
      EXPECT_NEAR(c.found.worst_gouge, depth, 1e-5) << named(turn) << " " << depth;
      EXPECT_NEAR(c.found.gouge_mm3, pi * radius * radius * depth / 3,
                  0.01 * pi * radius * radius * depth / 3 + 0.5 * std::pow(s.voxel, 3))
          << named(turn) << " " << depth;
      expect_closed(s, c);
    }
  }
}

// A rebate of 0.3 x 0.3 along one edge.
TEST(TwoWay, ARebate) {
  for (const RigidMotion& turn : turns()) {
    for (const double voxel : {0.2, 0.5}) {
      Scene s{{0, 0, 0}, {40, 20, 8}, box_mesh({0, 0, 0}, {40, 20, 8}), {}, voxel};
      s.turn = turn;
      s.passes = {{tool_of(ToolShape::flat, 6), {line({-6, -2.7, 7.7}, {46, -2.7, 7.7})}}};
      const Compared c = compare_scene(s);
      // From the part's lost edge to the rebate's wall or floor.
      EXPECT_NEAR(c.found.worst_gouge, 0.3, 1e-5) << named(turn) << " " << voxel;
      EXPECT_NEAR(c.found.gouge_mm3, 3.6, (voxel > 0.2 ? 0.02 : 0.01) * 3.6)
          << named(turn) << " " << voxel;
      EXPECT_EQ(c.found.gouges.size(), 1u);
      expect_closed(s, c);
    }
  }
}

// A fin on a base, drawn along x: the fin cut off, left on, and just right.
mesh::Mesh base_with_fin(double wide) {
  const double y0 = 10 - wide / 2, y1 = 10 + wide / 2;
  return extruded({{0, 0}, {20, 0}, {20, 4}, {y1, 4}, {y1, 8}, {y0, 8}, {y0, 4}, {0, 4}}, 0, 40);
}

std::vector<nc::Motion> beside_fin(double wide) {
  std::vector<nc::Motion> all;
  for (double y = 10 - wide / 2 - 3; y > -3; y -= 5) all.push_back(line({-6, y, 4}, {46, y, 4}));
  for (double y = 10 + wide / 2 + 3; y < 23; y += 5) all.push_back(line({-6, y, 4}, {46, y, 4}));
  return all;
}

TEST(TwoWay, AFinCutOff) {
  for (const RigidMotion& turn : turns()) {
    for (const double voxel : {0.2, 0.5}) {
      Scene s{{0, 0, 0}, {40, 20, 8}, base_with_fin(0.5), {}, voxel};
      s.turn = turn;
      s.passes = {{tool_of(ToolShape::flat, 6), passes_along_x(-6, 46, 0, 20, 4, 4)}};
      const Compared c = compare_scene(s);
      EXPECT_NEAR(c.found.gouge_mm3, 80, 0.003 * 80) << named(turn) << " " << voxel;
      EXPECT_NEAR(c.found.worst_gouge, 4, 0.05 * voxel) << named(turn) << " " << voxel;
      EXPECT_LT(c.found.excess_mm3, 0.1);
      expect_closed(s, c);
    }
  }
}

TEST(TwoWay, AFinLeftOnAndOneThatBelongs) {
  for (const RigidMotion& turn : turns()) {
    for (const double voxel : {0.2, 0.5}) {
      Scene s{{0, 0, 0}, {40, 20, 8}, box_mesh({0, 0, 0}, {40, 20, 4}), {}, voxel};
      s.turn = turn;
      s.passes = {{tool_of(ToolShape::flat, 6), beside_fin(0.5)}};
      const Compared left = compare_scene(s);
      EXPECT_NEAR(left.found.excess_mm3, 80, 0.003 * 80) << named(turn) << " " << voxel;
      EXPECT_NEAR(left.found.worst_excess, 4, 1e-5) << named(turn) << " " << voxel;
      EXPECT_LT(left.found.gouge_mm3, 0.1) << named(turn) << " " << voxel;
      expect_closed(s, left);
      s.part = base_with_fin(0.5);
      const Compared right = compare_scene(s);
      // A tenth of a micrometre over the part's 3,280 mm2.
      EXPECT_LT(right.found.excess_mm3, 0.33) << named(turn) << " " << voxel;
      EXPECT_LT(right.found.gouge_mm3, 0.33) << named(turn) << " " << voxel;
      EXPECT_LT(right.found.worst_gouge, 1e-4) << named(turn) << " " << voxel;
      EXPECT_LT(right.found.worst_excess, 1e-4) << named(turn) << " " << voxel;
      EXPECT_TRUE(right.found.gouges.empty());
      EXPECT_TRUE(right.found.excesses.empty());
      expect_closed(s, right);
    }
  }
}

// A slot 0.3 wide and 2 deep in the part that nothing cut.
TEST(TwoWay, ASlotThatWasNotCut) {
  for (const RigidMotion& turn : turns()) {
    Scene s{
        {0, 0, 0},
        {40, 20, 8},
        extruded({{0, 0}, {20, 0}, {20, 8}, {10.15, 8}, {10.15, 6}, {9.85, 6}, {9.85, 8}, {0, 8}},
                 0, 40),
        {},
        0.2};
    s.turn = turn;
    const Compared c = compare_scene(s);
    EXPECT_NEAR(c.found.excess_mm3, 24, 0.003 * 24) << named(turn);
    EXPECT_LT(c.found.gouge_mm3, 0.1) << named(turn);
    EXPECT_LT(c.found.worst_gouge, 1e-4) << named(turn);
    expect_closed(s, c);
  }
}

// Support boxes that reach into the part by any amount leave it as it is.
TEST(TwoWay, SupportsAreTakenOffOutsideThePart) {
  const double step = 4;
  Scene s{{0, 0, 0}, {40, 20, 8}, box_mesh({0, 0, 0}, {30, 20, 8}), {}, 0.2};
  // A bridge of 4 x 3 ties the part to the rest.
  s.passes = {{tool_of(ToolShape::flat, 4),
               {line({32, -4, -1}, {32, 8 - 2, -1}), line({32, 24, -1}, {32, 12 + 2, -1}),
                line({32, 6, 3}, {32, 14, 3})}}};
  double first = 0;
  for (const double into : {0.0, 0.7, 2.0, 3.3, 5.0}) {
    // With the rounds that the cutter leaves at the bridge's foot.
    s.sawn = {Box3(Vec3(30 - into, 5.9, -1), Vec3(30 + step, 14.1, 9))};
    const Compared c = compare_scene(s);
    if (into == 0) first = c.volume;
    EXPECT_NEAR(c.volume, 30 * 20 * 8, 5e-4 * 4800) << into;
    EXPECT_NEAR(c.volume, first, 5e-4 * 4800) << into;
    EXPECT_LT(c.found.gouge_mm3, 0.1) << into;
    EXPECT_LT(c.found.excess_mm3, 0.1) << into;
    EXPECT_TRUE(c.found.gouges.empty()) << into;
    EXPECT_TRUE(c.found.excesses.empty()) << into;
    expect_closed(s, c);
  }
}

// Cuts that end in the blank's own face, or only just meet: between them lies no material.
TEST(TwoWay, SilentOfSkinsWithoutThickness) {
  for (const RigidMotion& turn : turns()) {
    for (const double voxel : {0.25, 0.4}) {
      Scene s{{0, 0, 0}, {20, 20, 5}, box_mesh({0, 0, 0}, {14, 20, 5}), {}, voxel};
      s.turn = turn;
      s.passes = {{tool_of(ToolShape::flat, 3),
                   {line({15.5, -5, 0}, {15.5, 25, 0}), line({18.5, -5, 0}, {18.5, 25, 0})}}};
      const Compared c = compare_scene(s);
      EXPECT_TRUE(c.found.excesses.empty()) << named(turn) << " " << voxel;
      EXPECT_TRUE(c.found.gouges.empty()) << named(turn) << " " << voxel;
      EXPECT_LT(c.found.worst_excess, 1e-4) << named(turn) << " " << voxel;
      expect_closed(s, c);
    }
  }
}

// A skin of some thickness is material, however thin; its volume is right to a fiftieth of a voxel
// of its thickness.
TEST(TwoWay, SpeaksOfAThinSkin) {
  for (const double thick : {0.01, 0.1, 0.3}) {
    Scene s{{0, 0, 0}, {20, 20, 5}, box_mesh({0, 0, 0}, {14, 20, 5}), {}, 0.4};
    s.passes = {{tool_of(ToolShape::flat, 8), {line({18, -5, thick}, {18, 25, thick})}}};
    const Compared c = compare_scene(s);
    EXPECT_NEAR(c.found.worst_excess, 6, 1e-4) << thick;
    EXPECT_NEAR(c.found.excess_mm3, 6 * 20 * thick, 120 * 0.02 * s.voxel) << thick;
  }
}

// What is left on everywhere is of the region whole, also beside the part's own face.
TEST(TwoWay, TheRegionHoldsAllThatIsLeft) {
  for (const double high : {0.5, 1.0}) {
    for (const double voxel : {0.4, 0.8}) {
      Scene s{{0, 0, 0}, {24, 24, 6}, box_mesh({0, 0, 0}, {24, 24, 4}), {}, voxel};
      s.passes = {{tool_of(ToolShape::flat, 10), passes_along_x(-6, 30, 0, 24, 8, 4 + high)}};
      const Compared c = compare_scene(s);
      const double truth = 24 * 24 * high;
      EXPECT_NEAR(c.found.excess_mm3, truth, 0.003 * truth) << high << " " << voxel;
      EXPECT_NEAR(c.found.excess_beyond_mm3, truth, 0.05 * truth) << high << " " << voxel;
      EXPECT_NEAR(c.found.worst_excess, high, 1e-4) << high << " " << voxel;
    }
  }
}

// The support's box begins at the part's face, wherever that lies between voxels.
TEST(TwoWay, SupportsThatBeginAtThePartsFace) {
  for (double face = 3.9; face < 4.2; face += 0.0625) {
    Scene s{{0, 0, 0}, {20, 16, 8}, box_mesh({0, 0, face}, {20, 16, 8}), {}, 0.25};
    s.sawn = {Box3(Vec3(-1, -1, -1), Vec3(21, 17, face))};
    const Compared c = compare_scene(s);
    EXPECT_LT(c.found.gouge_mm3, 320 * 0.01 * s.voxel) << face;
    EXPECT_LT(c.found.excess_mm3, 320 * 0.01 * s.voxel) << face;
    EXPECT_TRUE(c.found.gouges.empty() && c.found.excesses.empty()) << face;
    expect_closed(s, c);
  }
}

// The block below `floor`, and passes over it all, each 6 wide.
Scene block_below(double floor, std::vector<nc::Motion> passes) {
  Scene s{{0, 0, 0}, {30, 20, 10}, box_mesh({0, 0, 0}, {30, 20, floor}), {}, 0.2};
  s.gouge_tolerance = s.excess_tolerance = 0.02;
  s.passes = {{tool_of(ToolShape::flat, 6), std::move(passes)}};
  return s;
}

TEST(TwoWay, AQuarterOfAVoxelIsFoundAndItsDepthRight) {
  // The floor is cut at 8 - 0.05 in a voxel of 0.2, at odd heights against the grid.
  for (double shift : {0.0, 0.031, 0.077, 0.1, 0.143}) {
    const double floor = 8 + shift;
    const Compared c =
        compare_scene(block_below(floor, passes_along_x(-4, 34, 0, 20, 4, floor - 0.05)));
    EXPECT_NEAR(c.found.worst_gouge, 0.05, 1e-5) << shift;
    EXPECT_NEAR(c.found.gouge_mm3, 30 * 20 * 0.05, 0.003 * 30) << shift;
    EXPECT_LT(c.found.worst_excess, 1e-5) << shift;
    ASSERT_FALSE(c.found.gouges.empty());
    EXPECT_GE(c.found.gouges.front().by, 1u);
  }
}

// A pass too deep by shallow, one too deep by deep, and one that leaves left standing; each 6 wide
// and all across.
struct Faulty {
  static constexpr double shallow = 0.1, deep = 1.3, left = 0.4;
  Scene scene = block_below(8, {line({5, -4, 8}, {5, 24, 8}), line({26, -4, 8}, {26, 24, 8}),
                                line({5, -4, 8 - shallow}, {5, 24, 8 - shallow}),
                                line({15, -4, 8 - deep}, {15, 24, 8 - deep}),
                                line({24, -4, 8 + left}, {24, 24, 8 + left})});
};

bool any_by(const std::vector<DeviationRegion>& regions, stock::MotionId id) {
  return std::any_of(regions.begin(), regions.end(), [&](const auto& r) { return r.by == id; });
}

TEST(TwoWay, EachMotionsFaultWithItsDepthWorstFirst) {
  const Compared c = compare_scene(Faulty().scene);
  const auto& d = c.found;
  ASSERT_EQ(d.gouges.size(), 2u);  // one a pass
  EXPECT_EQ(d.gouges[0].by, 4u);
  EXPECT_NEAR(d.worst_gouge, Faulty::deep, 1e-5);
  EXPECT_NEAR(d.gouges[0].depth, Faulty::deep, 1e-5);
  // The floor's middle is missing most; the walls of that slot are missing less, towards the top.
  EXPECT_NEAR(d.gouges[0].at.z(), 8 - Faulty::deep, 0.02);
  EXPECT_NEAR(d.gouges[0].at.x(), 15, 3);
  EXPECT_EQ(d.gouges[1].by, 3u);
  EXPECT_NEAR(d.gouges[1].depth, Faulty::shallow, 1e-5);
  EXPECT_NEAR(d.gouges[1].volume_mm3, 6 * 20 * Faulty::shallow, 0.01 * 12);
  for (std::size_t k = 1; k < d.excesses.size(); ++k)
    EXPECT_GE(d.excesses[k - 1].depth, d.excesses[k].depth) << k;
  // The blank's own top is 2 above the part.
  EXPECT_NEAR(d.worst_excess, 2, 1e-5);
}

// A floor at any height against the grid, also through the voxels' middles and on their faces,
// where rounding decides.
TEST(TwoWay, TheVolumeDoesNotDependOnWhereTheFloorLies) {
  for (const double depth : {0.1, 0.2, 0.3, 0.5, 0.9, 1.0, 0.25, 0.33}) {
    const Compared c =
        compare_scene(block_below(10, {line({5, -4, 10 - depth}, {5, 24, 10 - depth})}));
    EXPECT_NEAR(c.found.gouge_mm3, 6 * 20 * depth, 0.003 * 120 * depth + 0.03) << depth;
  }
}

TEST(TwoWay, EitherToleranceIsItsOwn) {
  Scene s = Faulty().scene;
  s.excess_tolerance = 5;
  const Compared gouges_only = compare_scene(s);
  EXPECT_TRUE(any_by(gouges_only.found.gouges, 3));
  EXPECT_TRUE(gouges_only.found.excesses.empty());
  s.gouge_tolerance = 5;
  s.excess_tolerance = 0.02;
  const Compared excess_only = compare_scene(s);
  EXPECT_TRUE(excess_only.found.gouges.empty());
  EXPECT_TRUE(any_by(excess_only.found.excesses, 5));
}

TEST(TwoWay, AnInnocentCutIsNotAccusedAtItsEdges) {
  const double floor = 7.93;
  const Compared c = compare_scene(block_below(floor, passes_along_x(-4, 34, 0, 20, 4, floor)));
  EXPECT_EQ(c.found.gouges.size(), 0u) << c.found.worst_gouge;
  EXPECT_EQ(c.found.excesses.size(), 0u) << c.found.worst_excess;
}

// Shares of a cube below planes, against counting 200^3 places.
TEST(PlaneShare, AgreesWithCounting) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> u(-1, 1);
  for (int i = 0; i < 60; ++i) {
    Vec3 slope(u(random), i % 3 == 0 ? 0.0 : u(random), i % 7 == 0 ? 0.0 : u(random));
    slope.normalize();
    const double value = 0.6 * u(random);
    constexpr int n = 100;
    int below = 0;
    for (int k = 0; k < n * n * n; ++k) {
      const Vec3 at = Eigen::Vector3i(k % n, k / n % n, k / n / n).cast<double>();
      below += value + slope.dot((at + Vec3::Constant(0.5)) / n - Vec3::Constant(0.5)) < 0;
    }
    EXPECT_NEAR(plane_share(value, slope, 1), double(below) / (n * n * n), 0.012)
        << "seed 5 case " << i;
    EXPECT_NEAR(plane_share(value, slope, 1) + plane_share(-value, slope, 1), 1, 1e-12);
  }
}

}  // namespace
}  // namespace proveout::measure
