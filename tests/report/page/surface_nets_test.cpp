#include "report/page/build/surface_nets.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <map>

namespace proveout::page {
namespace {

Surface surface_of(const Box3& box, double step, const std::function<double(const Vec3&)>& field) {
  Lattice lattice = lattice_over(box, step);
  for (int k = 0; k < lattice.count[2]; ++k)
    for (int j = 0; j < lattice.count[1]; ++j)
      for (int i = 0; i < lattice.count[0]; ++i)
        lattice.values[lattice.index(i, j, k)] = static_cast<float>(field(lattice.place(i, j, k)));
  return surface_nets(lattice).surface;
}

Vec3 corner(const Surface& s, std::size_t t) {
  const std::uint32_t v = s.triangles[t];
  return {s.vertices[3 * v], s.vertices[3 * v + 1], s.vertices[3 * v + 2]};
}

double volume(const Surface& s) {  // divergence theorem
  double sum = 0;
  for (std::size_t t = 0; t < s.triangles.size(); t += 3)
    sum += corner(s, t).dot(corner(s, t + 1).cross(corner(s, t + 2))) / 6;
  return sum;
}

bool closed(const Surface& s) {  // every edge as often one way as the other
  std::map<std::pair<std::uint32_t, std::uint32_t>, int> edges;
  for (std::size_t t = 0; t < s.triangles.size(); t += 3)
    for (int k = 0; k < 3; ++k) {
      const std::uint32_t a = s.triangles[t + k], b = s.triangles[t + (k + 1) % 3];
      edges[{std::min(a, b), std::max(a, b)}] += a < b ? 1 : -1;
    }
  for (const auto& [edge, sum] : edges)
    if (sum != 0) return false;
  return true;
}

TEST(SurfaceNets, SphereIsClosedAndHasItsVolume) {
  const double radius = 10;
  const Surface s = surface_of(Box3(Vec3::Constant(-10), Vec3::Constant(10)), 0.5,
                               [&](const Vec3& p) { return p.norm() - radius; });
  EXPECT_TRUE(closed(s));
  // The mean of edge crossings lies inside a convex surface by less than step^2 / (4 radius).
  for (std::size_t t = 0; t < s.triangles.size(); ++t)
    ASSERT_NEAR(corner(s, t).norm(), radius, 0.02);
  EXPECT_NEAR(volume(s), 4.0 / 3 * pi * 1000, 0.01 * 4.0 / 3 * pi * 1000);
}

TEST(SurfaceNets, PlaneIsExact) {
  const Surface s = surface_of(Box3(Vec3::Constant(-3), Vec3::Constant(3)), 0.4, [](const Vec3& p) {
    return std::max((p.array().abs() - 3).maxCoeff(),
                    0.25 - p.z());  // a box cut off below z = 0.25
  });
  EXPECT_TRUE(closed(s));
  int flat = 0;
  for (std::size_t t = 0; t < s.triangles.size(); ++t) {
    const Vec3 p = corner(s, t);
    if (p.head<2>().cwiseAbs().maxCoeff() > 2.2 || p.z() > 1) continue;
    ASSERT_NEAR(p.z(), 0.25, 1e-5);
    ++flat;
  }
  EXPECT_GT(flat, 100);
}

TEST(SurfaceNets, NothingInsideGivesNothing) {
  EXPECT_TRUE(
      surface_of(Box3(Vec3::Zero(), Vec3::Ones()), 0.1, [](const Vec3&) { return 1.0; }).empty());
}

}  // namespace
}  // namespace proveout::page
