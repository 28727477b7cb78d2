// Where a piece ends that lies at any angle, against closed forms: its extremes are at corners of
// boxes, at the rim of a cylinder (centre . u + radius sqrt(1 - (u . axis)^2)), or where an edge
// meets a plane of the band. The grid alone cuts such edges off by a third of a voxel.
#include "sim/measure/exact_extent.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>

#include "sim/measure/measure.h"
#include "sim/setup/pose.h"
#include "tests/sim/measure/compared_scene.h"

namespace proveout::measure {
namespace {

using Band = std::optional<std::pair<double, double>>;

const Vec3 blank_high(40, 30, 20);
// Milled all round out of the blank: a block on a slab of the blank's own width.
const Box3 block(Vec3(3.17, 2.41, 5.2), Vec3(36.37, 27.83, 17.3));
const Box3 slab(Vec3::Zero(), Vec3(40, 30, 5.2));

std::vector<nc::Motion> chain(const std::vector<Vec3>& at) {
  std::vector<nc::Motion> out;
  for (std::size_t i = 1; i < at.size(); ++i) out.push_back(stock::line(at[i - 1], at[i]));
  return out;
}

// The top's passes, then round the block at its foot's height. r: of the tool, mm.
std::vector<nc::Motion> block_passes(double r) {
  std::vector<Vec3> at;
  for (double y = -2; y < 34; y += 3) {
    at.emplace_back(-5, y, block.max().z());
    at.emplace_back(45, y, block.max().z());
    at.emplace_back(45, y, 30);
    at.emplace_back(-5, y + 3, 30);
  }
  const Vec3 low = block.min() - Vec3(r, r, 0), high = block.max() + Vec3(r, r, 0);
  at.emplace_back(low.x(), low.y(), 30);
  for (const auto& [x, y] :
       {std::pair(low.x(), low.y()), std::pair(high.x(), low.y()), std::pair(high.x(), high.y()),
        std::pair(low.x(), high.y()), std::pair(low.x(), low.y())})
    at.emplace_back(x, y, low.z());
  return chain(at);
}

// Furthest place of a box along u, between two planes of v: at its corners, or where an edge meets
// one of the planes.
double furthest(const Box3& box, const Vec3& u, const Vec3& v, double low, double high) {
  double most = -1e30;
  for (int c = 0; c < 8; ++c) {
    const Vec3 a = box.corner(static_cast<Box3::CornerType>(c));
    for (int k = 0; k < 3; ++k) {
      Vec3 b = a;
      b[k] = (c >> k & 1) ? box.min()[k] : box.max()[k];
      double from = 0, to = 1;
      const double at = v.dot(a), way = v.dot(b) - at;
      for (const auto& [sign, limit] : {std::pair(1.0, high), std::pair(-1.0, -low)}) {
        const double room = limit - sign * at, per = sign * way;
        if (per > 0)
          to = std::min(to, room / per);
        else if (per < 0)
          from = std::max(from, room / per);
        else if (room < 0)
          to = -1;
      }
      if (from > to) continue;
      most = std::max({most, u.dot(a + from * (b - a)), u.dot(a + to * (b - a))});
    }
  }
  return most;
}

Box3 extent_of_boxes(std::initializer_list<Box3> boxes, const Eigen::Matrix3d& turn,
                     const Band& band) {
  const Vec3 up = turn.row(2);
  const auto most = [&](const Vec3& u, double low, double high) {
    double out = -1e30;
    for (const Box3& b : boxes) out = std::max(out, furthest(b, u, up, low, high));
    return out;
  };
  const double bottom = -most(-up, -1e9, 1e9), top = most(up, -1e9, 1e9);
  const double low = band ? bottom + band->first : -1e9;
  const double high = band ? bottom + band->second : 1e9;
  const Vec3 x = turn.row(0), y = turn.row(1);
  return {Vec3(-most(-x, low, high), -most(-y, low, high), bottom),
          Vec3(most(x, low, high), most(y, low, high), top)};
}

double apart(const Box3& a, const Box3& b) {
  return std::max((a.min() - b.min()).cwiseAbs().maxCoeff(),
                  (a.max() - b.max()).cwiseAbs().maxCoeff());
}

std::vector<std::vector<job::Turn>> turns() {
  using job::Axis;
  return {{{Axis::y, 5}},
          {{Axis::x, 17}},
          {{Axis::z, 30}},
          {{Axis::y, 180}, {Axis::x, 45}},
          {{Axis::y, 61}, {Axis::z, 22}},
          {{Axis::x, -33}, {Axis::y, 12}, {Axis::z, 7}}};
}

TEST(ExactExtent, CornersOfAMilledBlock) {
  const job::Tool tool = stock::tool_of(job::ToolShape::flat, 6);
  const std::vector<nc::Motion> motions = block_passes(3);
  double worst = 0, worst_grid = 0;  // voxels
  for (const double voxel : {0.2, 0.5, 1.0}) {
    MilledBlank blank(Vec3::Zero(), blank_high, RigidMotion::Identity(), voxel);
    blank.mill(motions, RigidMotion::Identity(), {{tool, motions.size()}});
    const stock::ExactStock exact = blank.exact();
    for (const auto& turn : turns()) {
      const Eigen::Matrix3d r = setup::machine_from_stock_rotation(turn);
      for (const Band& band : {Band(), Band({2, 3.5})}) {
        const Box3 truth = extent_of_boxes({block, slab}, r, band);
        const ExactExtent found = exact_extent(blank.cut(), exact, r, band);
        EXPECT_LT(apart(found.box, truth), 0.02 * voxel)
            << "voxel " << voxel << ", first turn " << turn[0].degrees << (band ? ", band" : "");
        EXPECT_LT(found.open, 0.01 * voxel);
        EXPECT_LT(found.beyond, 0.01 * voxel);
        worst = std::max(worst, apart(found.box, truth) / voxel);
        worst_grid = std::max(worst_grid, apart(extent(blank.cut(), r, band), truth) / voxel);
      }
    }
  }
  std::printf("tilted block: %.4f voxel by motions, %.4f by the grid\n", worst, worst_grid);
}

// The blank a mesh that lies aslant in the grid, cut along its own axes.
TEST(ExactExtent, OfABlankGivenAsATurnedMesh) {
  const job::Tool tool = stock::tool_of(job::ToolShape::flat, 6);
  const std::vector<nc::Motion> motions = block_passes(3);
  RigidMotion lying = RigidMotion::Identity();
  lying.rotate(Eigen::AngleAxisd(0.3, Vec3(1, 2, 3).normalized()));
  lying.pretranslate(Vec3(5, 6, 20));
  const double voxel = 0.4;
  MilledBlank blank(Vec3::Zero(), blank_high, lying, voxel);
  blank.mill(motions, lying, {{tool, motions.size()}});
  const stock::ExactStock exact = blank.exact();
  const Eigen::Matrix3d r =
      setup::machine_from_stock_rotation(std::vector<job::Turn>{{job::Axis::y, 40}});
  const Box3 truth = extent_of_boxes({block, slab}, r * lying.linear(), {});
  ExactExtent found = exact_extent(blank.cut(), exact, r);
  found.box.translate(-(r * lying.translation()));
  EXPECT_LT(apart(found.box, truth), 0.02 * voxel);
  EXPECT_LT(found.beyond, 0.01 * voxel);
  // Lying as it was milled its faces are square to the axes, and its edges no corners.
  found = exact_extent(blank.cut(), exact, lying.linear().transpose());
  found.box.translate(-(lying.linear().transpose() * lying.translation()));
  EXPECT_LT(apart(found.box, extent_of_boxes({slab, block}, Eigen::Matrix3d::Identity(), {})),
            0.02 * voxel);
}

// A boss that full circles leave, on a slab narrower than it seems from aside.
TEST(ExactExtent, RimOfABoss) {
  const job::Tool tool = stock::tool_of(job::ToolShape::flat, 8);
  const Vec3 centre(20, 15, 0);
  const double radius = 9.13, foot = 2.3;
  std::vector<nc::Motion> motions;
  for (double way = radius + 4; way < 32; way += 5)
    motions.push_back(stock::arc(Vec3(20 + way, 15, foot), Vec3(20, 15, foot), 2 * pi));
  for (const double voxel : {0.2, 0.8}) {
    MilledBlank blank(Vec3::Zero(), blank_high, RigidMotion::Identity(), voxel);
    blank.mill(motions, RigidMotion::Identity(), {{tool, motions.size()}});
    const stock::ExactStock exact = blank.exact();
    for (const double degrees : {25.0, 70.0, 110.0}) {
      const Eigen::Matrix3d r =
          setup::machine_from_stock_rotation(std::vector<job::Turn>{{job::Axis::x, degrees}});
      Box3 truth = extent_of_boxes({Box3(Vec3::Zero(), Vec3(40, 30, foot))}, r, {});
      for (int k = 0; k < 3; ++k) {
        const Vec3 u = r.row(k);
        const double across = radius * std::hypot(u.x(), u.y()), at = u.dot(centre);
        const double low = std::min(foot * u.z(), 20 * u.z()),
                     high = std::max(foot * u.z(), 20 * u.z());
        truth.min()[k] = std::min(truth.min()[k], at - across + low);
        truth.max()[k] = std::max(truth.max()[k], at + across + high);
      }
      const ExactExtent found = exact_extent(blank.cut(), exact, r);
      EXPECT_LT(apart(found.box, truth), 0.02 * voxel) << degrees << " at " << voxel;
      EXPECT_LT(found.open, 0.01 * voxel) << degrees << " at " << voxel;
      EXPECT_LT(found.beyond, 0.01 * voxel) << degrees << " at " << voxel;
    }
  }
}

// What fell off is in the motions' stock still; the grid knows that it went.
TEST(ExactExtent, APieceThatFellOffIsNotTouched) {
  const job::Tool tool = stock::tool_of(job::ToolShape::flat, 6);
  const std::vector<nc::Motion> motions = {stock::line({30, -10, -1}, {30, 40, -1})};
  MilledBlank blank(Vec3::Zero(), blank_high, RigidMotion::Identity(), 0.4);
  blank.mill(motions, RigidMotion::Identity(), {{tool, motions.size()}});
  keep_one_piece(blank.cut(), nullptr);
  const Eigen::Matrix3d r =
      setup::machine_from_stock_rotation(std::vector<job::Turn>{{job::Axis::y, 20}});
  const ExactExtent found = exact_extent(blank.cut(), blank.exact(), r);
  EXPECT_LT(apart(found.box, extent_of_boxes({Box3(Vec3::Zero(), Vec3(27, 30, 20))}, r, {})),
            0.02 * 0.4);
}

// Random cuts of all shapes of tools: the same at a voxel of a third, no voxel's middle in material
// lies beyond, and the finer grid ends there too but for what it cuts off of sharp edges.
TEST(ExactExtent, RandomCutsAgainstAFinerGrid) {
  std::mt19937 random(31);
  std::uniform_real_distribution<double> share(0, 1);
  const std::array shapes = {job::ToolShape::flat, job::ToolShape::ball, job::ToolShape::bull,
                             job::ToolShape::vee};
  for (int n = 0; n < 4; ++n) {
    job::Tool tool = stock::tool_of(shapes[static_cast<std::size_t>(n % 4)], 5);
    tool.corner_radius = 1;
    tool.tip_angle = 60;
    std::vector<Vec3> at = {Vec3(-5, 15, 16)};
    for (int k = 0; k < 14; ++k)
      at.emplace_back(50 * share(random) - 5, 40 * share(random) - 5, 8 + 10 * share(random));
    const std::vector<nc::Motion> motions = chain(at);
    const Eigen::Matrix3d r = setup::machine_from_stock_rotation(std::vector<job::Turn>{
        {job::Axis::x, 90 * share(random)}, {job::Axis::y, 90 * share(random)}});
    ExactExtent found;
    Box3 fine, fine_exact;
    for (const double voxel : {0.6, 0.2}) {
      MilledBlank blank(Vec3::Zero(), blank_high, RigidMotion::Identity(), voxel);
      blank.mill(motions, RigidMotion::Identity(), {{tool, motions.size()}});
      keep_one_piece(blank.cut(), nullptr);
      const ExactExtent here = exact_extent(blank.cut(), blank.exact(), r);
      if (voxel > 0.5)
        found = here;
      else
        fine_exact = here.box;
      fine = extent(blank.cut(), r);
    }
    EXPECT_LT(found.open, 0.02 * 0.6) << "seed 31, case " << n;
    EXPECT_LT(found.beyond, 0.01 * 0.6) << "seed 31, case " << n;
    EXPECT_LT(apart(found.box, fine_exact), 0.02 * 0.6) << "seed 31, case " << n;
    EXPECT_LT(apart(found.box, fine), 1.5 * 0.2) << "seed 31, case " << n;
    // Nothing the finer grid holds lies outside.
    EXPECT_LT((fine.max() - found.box.max()).maxCoeff(), 0.05 * 0.2) << "seed 31, case " << n;
    EXPECT_LT((found.box.min() - fine.min()).maxCoeff(), 0.05 * 0.2) << "seed 31, case " << n;
  }
}

}  // namespace
}  // namespace proveout::measure
