// How far a mesh lies off is measured, not assumed: stocks whose surfaces are known in closed form,
// where it must be told large (a fin thinner than a voxel, a spike beyond the band of distances)
// and where small.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>

#include "report/mesh/measured_mesh.h"
#include "report/mesh/simplify.h"
#include "report/page/build/stock_surface.h"
#include "report/page/build/surface_error.h"

namespace proveout::mesh_files {
namespace {

nc::Motion straight(const Vec3& start, const Vec3& end) {
  nc::Motion motion;
  motion.kind = nc::PathKind::line;
  motion.start = start;
  motion.end = end;
  motion.line = 1;
  motion.feed = 500;
  return motion;
}

solid::ToolBody flat(double diameter) {
  job::Tool tool;
  tool.number = 1;
  tool.shape = job::ToolShape::flat;
  tool.diameter = diameter;
  tool.stickout = tool.flute_length = 20;
  return solid::make_tool_body(tool);
}

stock::Stock cut(const Vec3& size, double voxel, double diameter,
                 const std::vector<nc::Motion>& motions) {
  const solid::ToolBody body = flat(diameter);
  const std::vector<stock::ToolRun> uses{{0, motions.size(), &body}};
  stock::Stock stock = stock::Stock::box(size, voxel);
  stock.cut(motions, uses, RigidMotion::Identity(), 1, {});
  return stock;
}

page::SurfaceError error_of(const stock::Stock& stock) {
  return measured_mesh(stock, page::stock_surface(stock, nullptr, 100000)).error;
}

// Two slots 6 mm wide and 5 deep leave a fin 0.3 mm thick between them. At a voxel of 1 mm no
// voxel's middle lies in it, so neither grid nor mesh have it: its crest stands 5 mm above the
// floor and 6 from the slots' other walls, and the uppermost row of middles is half a voxel below
// it.
TEST(MeshError, AFinThinnerThanAVoxelIsTold) {
  const std::vector<nc::Motion> slots{straight({-5, 6.85, 5}, {20, 6.85, 5}),
                                      straight({-5, 13.15, 5}, {20, 13.15, 5})};
  const page::SurfaceError coarse = error_of(cut({15, 20, 10}, 1, 6, slots));
  EXPECT_GT(coarse.furthest, 4);
  EXPECT_LT(coarse.furthest, 5.5);
  EXPECT_NEAR(coarse.furthest_at.y(), 10, 0.2);
  // Where voxels are smaller than half of it, it is there.
  const page::SurfaceError fine = error_of(cut({15, 20, 10}, 0.125, 6, slots));
  EXPECT_LT(fine.furthest, 0.125);
  // A fin of 3 mm at the coarse voxel.
  const std::vector<nc::Motion> apart{straight({-5, 5.5, 5}, {20, 5.5, 5}),
                                      straight({-5, 14.5, 5}, {20, 14.5, 5})};
  EXPECT_LT(error_of(cut({15, 20, 10}, 1, 6, apart)).furthest, 0.75);
}

// The same fin at 45 degrees: its normal has 0.71 along both axes.
TEST(MeshError, AFinAskewIsTold) {
  const Vec3 along = Vec3(1, 1, 0).normalized(), across = Vec3(-1, 1, 0).normalized();
  const Vec3 middle(15, 15.5, 5);  // off the diagonal that voxels' middles lie on
  std::vector<nc::Motion> slots;
  for (const double side : {-3.15, 3.15})
    slots.push_back(
        straight(middle + side * across - 30 * along, middle + side * across + 30 * along));
  const page::SurfaceError coarse = error_of(cut({30, 30, 10}, 1, 6, slots));
  EXPECT_GT(coarse.furthest, 3.5);
  EXPECT_LT(coarse.furthest, 5.5);
}

// The other way round: a groove of 0.3 mm, narrower than a voxel and 4 mm deep, between two rows of
// middles.
TEST(MeshError, AGrooveThinnerThanAVoxelIsTold) {
  const std::vector<nc::Motion> groove{straight({-5, 10, 6}, {20, 10, 6})};
  const page::SurfaceError coarse = error_of(cut({15, 20, 10}, 1, 0.3, groove));
  EXPECT_GT(coarse.furthest, 3);
  EXPECT_LT(coarse.furthest, 4.5);
}

// Voxels know their distance up to three voxels off; what lies further off must be told in full.
TEST(MeshError, ASpikeBeyondTheBandIsToldInFull) {
  const stock::Stock stock = stock::Stock::box({15, 20, 10}, 0.25);
  page::Surface spiked = page::stock_surface(stock, nullptr, 20000);
  std::size_t nearest = 0;
  const auto away = [&](std::size_t i) {
    return std::hypot(spiked.vertices[3 * i] - 7, spiked.vertices[3 * i + 1] - 10,
                      spiked.vertices[3 * i + 2] - 10);
  };
  for (std::size_t i = 0; i < spiked.vertices.size() / 3; ++i)
    if (away(i) < away(nearest)) nearest = i;
  for (const float height : {5.0f, -4.0f}) {
    page::Surface moved = spiked;
    moved.vertices[3 * nearest + 2] += height;
    // Crossings of the level set stand a voxel apart.
    const page::SurfaceError e = page::surface_error(stock, moved, 0.125);
    EXPECT_GE(e.furthest, std::abs(height) - 1e-3);
    EXPECT_LT(e.furthest, std::abs(height) + 0.05);
    EXPECT_FALSE(e.off.empty());
  }
  EXPECT_TRUE(page::surface_error(stock, spiked, 0.25).off.empty());
}

// Seeded: what is claimed bounds the distance of every corner and every triangle's middle from the
// solid itself, a block with a slot through it, whose outline is a polygon. Beside its sharp edges
// the grid is off by half a voxel at most of its own. (Joining alone lays a triangle across the
// slot's mouth in one of these, 0.71 mm off: it looks at planes.)
double from_slotted_block(const Vec3& p, const Vec3& size, double y0, double y1, double z0) {
  const std::array<Eigen::Vector2d, 8> outline = {{{0, 0},
                                                   {size.y(), 0},
                                                   {size.y(), size.z()},
                                                   {y1, size.z()},
                                                   {y1, z0},
                                                   {y0, z0},
                                                   {y0, size.z()},
                                                   {0, size.z()}}};
  const Eigen::Vector2d q(p.y(), p.z());
  double in_plane = 1e9;
  bool inside = false;
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const Eigen::Vector2d &a = outline[i], &b = outline[(i + 1) % outline.size()];
    const double share = std::clamp((q - a).dot(b - a) / (b - a).squaredNorm(), 0.0, 1.0);
    in_plane = std::min(in_plane, (q - a - share * (b - a)).norm());
    if ((a.y() > q.y()) != (b.y() > q.y()) &&
        q.x() < a.x() + (q.y() - a.y()) / (b.y() - a.y()) * (b.x() - a.x()))
      inside = !inside;
  }
  const double beyond_end = std::max(-p.x(), p.x() - size.x());  // negative between the ends
  if (inside) return beyond_end <= 0 ? std::min(in_plane, -beyond_end) : beyond_end;
  return beyond_end <= 0 ? in_plane : std::hypot(in_plane, beyond_end);
}

TEST(MeshError, BoundsCornersAndMiddlesOfSlottedBlocks) {
  std::mt19937 random(20261129);
  double worst_plain = 0;  // voxels: by joining without looking
  for (int n = 0; n < 12; ++n) {
    const auto between = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    const Vec3 size(between(6, 12), between(14, 20), between(6, 10));
    const double voxel = between(0.3, 0.8), diameter = between(2, 6);
    const double y = between(diameter, size.y() - diameter), z = between(2, size.z() - 1.5);
    const stock::Stock stock =
        cut(size, voxel, diameter, {straight({-10, y, z}, {size.x() + 10, y, z})});
    const auto measured = measured_mesh(stock, page::stock_surface(stock, nullptr, 100000));
    const page::Surface& surface = measured.surface;
    const page::SurfaceError& error = measured.error;
    const double claimed = error.furthest;
    const page::Surface plain =
        simplified(page::stock_surface(stock, nullptr, 100000), 0.05 * voxel);
    worst_plain = std::max(worst_plain, page::surface_error(stock, plain).furthest / voxel);
    const auto corner = [&](std::uint32_t number) {
      const std::size_t v = 3 * std::size_t{number};
      return Vec3(surface.vertices[v], surface.vertices[v + 1], surface.vertices[v + 2]);
    };
    double worst = 0;
    const auto hold = [&](const Vec3& p) {
      worst = std::max(worst, from_slotted_block(p, size, y - diameter / 2, y + diameter / 2, z));
    };
    for (std::size_t t = 0; t < surface.triangles.size(); t += 3) {
      const Vec3 a = corner(surface.triangles[t]), b = corner(surface.triangles[t + 1]),
                 c = corner(surface.triangles[t + 2]);
      hold(a);
      hold((a + b + c) / 3);
    }
    EXPECT_LE(worst, claimed + 0.5 * voxel) << "case " << n << ", voxel " << voxel;
    EXPECT_LT(claimed, voxel) << "case " << n << ", voxel " << voxel << " at "
                              << error.furthest_at.transpose() << " of " << size.transpose()
                              << ", slot at " << y << ' ' << z << ", " << diameter;
  }
  EXPECT_GT(worst_plain, 1) << "no case here shows what measuring is for";
}

// What may not be touched stays triangle for triangle, and the whole stays closed.
TEST(MeshError, PlacesLeftAloneStay) {
  const stock::Stock stock = stock::Stock::box({15, 20, 10}, 0.5);
  const page::Surface surface = page::stock_surface(stock, nullptr, 100000);
  const std::vector<Vec3> alone{{7.5, 10, 10}};
  const page::Surface all = simplified(surface, 0.05), kept = simplified(surface, 0.05, alone, 2);
  EXPECT_TRUE(closed(kept));
  const auto about = [&](const page::Surface& s) {
    int count = 0;
    for (std::size_t t = 0; t < s.triangles.size(); t += 3) {
      Vec3 middle = Vec3::Zero();
      for (std::size_t k = 0; k < 3; ++k)
        for (int a = 0; a < 3; ++a)
          middle[a] +=
              s.vertices[3 * std::size_t{s.triangles[t + k]} + static_cast<std::size_t>(a)] / 3;
      count += (middle - alone[0]).norm() < 2 ? 1 : 0;
    }
    return count;
  };
  EXPECT_EQ(about(kept), about(surface));
  EXPECT_GT(about(kept), 50);
  EXPECT_LT(about(all), 5);
  EXPECT_LT(kept.triangles.size(), surface.triangles.size() / 2);
}

}  // namespace
}  // namespace proveout::mesh_files
