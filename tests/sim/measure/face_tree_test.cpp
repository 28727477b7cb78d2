// The nearest place of a mesh against a walk over all its triangles that shares nothing with the
// tree: distances by planes and edges, sides by the solid angle (van Oosterom and Strackee, "The
// solid angle of a plane triangle", IEEE Trans. Biomed. Eng. 30 (1983) 125-126; from memory).
#include "sim/solid/face_tree.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "tests/parser/mesh/star_mesh.h"

namespace proveout::solid {
namespace {

double to_segment(const Vec3& p, const Vec3& a, const Vec3& b) {
  const Vec3 along = b - a;
  const double t = std::clamp((p - a).dot(along) / along.squaredNorm(), 0.0, 1.0);
  return (a + t * along - p).norm();
}

double to_triangle(const Vec3& p, const std::array<Vec3, 3>& t) {
  const Vec3 normal = (t[1] - t[0]).cross(t[2] - t[0]).normalized();
  const Vec3 foot = p - (p - t[0]).dot(normal) * normal;
  bool inside = true;
  for (std::size_t k = 0; k < 3; ++k)
    inside = inside && (t[(k + 1) % 3] - t[k]).cross(foot - t[k]).dot(normal) >= 0;
  if (inside) return (p - foot).norm();
  return std::min(
      {to_segment(p, t[0], t[1]), to_segment(p, t[1], t[2]), to_segment(p, t[2], t[0])});
}

double solid_angle(const Vec3& p, const std::array<Vec3, 3>& t) {
  const Vec3 a = t[0] - p, b = t[1] - p, c = t[2] - p;
  const double la = a.norm(), lb = b.norm(), lc = c.norm();
  return 2 * std::atan2(a.dot(b.cross(c)),
                        la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb);
}

double distance_to_all(const mesh::Mesh& mesh, const Vec3& p) {
  double nearest = 1e300, angle = 0;
  for (const auto& t : mesh.triangles) {
    const std::array<Vec3, 3> corner{mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]};
    nearest = std::min(nearest, to_triangle(p, corner));
    angle += solid_angle(p, corner);
  }
  return angle > 2 * pi ? -nearest : nearest;
}

TEST(FaceTree, NearestOfAllTriangles) {
  for (const unsigned seed : {1u, 2u, 3u, 4u, 5u, 6u, 7u, 8u}) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> unit(-1, 1);
    const auto somewhere = [&](double size) {
      return Vec3(size * unit(random), size * unit(random), size * unit(random));
    };
    const double radius = std::pow(10, 1.5 * unit(random));
    const Vec3 middle = somewhere(200);
    const int around = 3 + static_cast<int>(seed * seed / 2);
    std::uniform_real_distribution<double> dent(0.7, 1.3);
    const mesh::Mesh mesh = mesh::star_mesh(middle, std::max(2, around / 2), around,
                                            [&] { return dent(random) * radius; });
    SCOPED_TRACE(testing::Message() << "seed " << seed << " radius " << radius << " triangles "
                                    << mesh.triangles.size());
    const FaceTree tree(mesh);
    int hint = -1;
    for (int i = 0; i < 150; ++i) {
      const Vec3 p = middle + somewhere(i % 3 == 0 ? 0.9 * radius : 3 * radius);
      const double all = distance_to_all(mesh, p);
      EXPECT_NEAR(tree.at(p), all, 1e-9 * radius) << p.transpose();
      const FaceTree::Nearest nearest = tree.nearest(p, 1e30, hint);
      hint = nearest.face;
      EXPECT_NEAR(nearest.distance, all, 1e-9 * radius) << p.transpose();
      EXPECT_NEAR((nearest.on - p).norm(), std::abs(all), 1e-9 * radius) << p.transpose();
      // What lies a hair within reach is found, a hair beyond it is not.
      EXPECT_NEAR(tree.at(p, 1.001 * std::abs(all)), all, 1e-9 * radius) << p.transpose();
      EXPECT_EQ(tree.nearest(p, 0.999 * std::abs(all)).face, -1) << p.transpose();
    }
  }
}

TEST(FaceTree, OfNothingNothingIsNear) {
  const mesh::Mesh none;
  const FaceTree tree(none);
  EXPECT_EQ(tree.at(Vec3(1, 2, 3), 5), 5);
  EXPECT_EQ(tree.nearest(Vec3(1, 2, 3), 5).face, -1);
}

}  // namespace
}  // namespace proveout::solid
