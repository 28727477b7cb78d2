// Joining flat places, held against shapes whose answer is known: a box of many squares needs
// twelve triangles; a ball keeps its corners on the ball, its volume, and stays closed.
#include "report/mesh/simplify.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <random>
#include <set>

#include "report/page/build/surface_nets.h"

namespace proveout::mesh_files {
namespace {

using Place = std::array<float, 3>;

class Builder {
 public:
  std::uint32_t corner(const Place& at, std::uint32_t by) {
    const auto [found, fresh] = number_.try_emplace(at, static_cast<std::uint32_t>(number_.size()));
    if (fresh) {
      surface.vertices.insert(surface.vertices.end(), at.begin(), at.end());
      surface.made_by.push_back(by);
    }
    return found->second;
  }
  void square(const std::array<std::uint32_t, 4>& c) {
    for (int k : {0, 1, 2, 0, 2, 3}) surface.triangles.push_back(c[static_cast<std::size_t>(k)]);
  }
  page::Surface surface;

 private:
  std::map<Place, std::uint32_t> number_;
};

// A cube of side 2 about the origin, n squares along each edge, each place put where `put` says.
template <class Put>
page::Surface cube(int n, const Put& put) {
  Builder builder;
  for (int axis = 0; axis < 3; ++axis) {
    for (int side : {-1, 1}) {
      const auto place = [&](int i, int j) {
        Place p{};
        p[static_cast<std::size_t>(axis)] = static_cast<float>(side);
        p[static_cast<std::size_t>((axis + 1) % 3)] =
            2.f * static_cast<float>(i) / static_cast<float>(n) - 1.f;
        p[static_cast<std::size_t>((axis + 2) % 3)] =
            2.f * static_cast<float>(j) / static_cast<float>(n) - 1.f;
        return builder.corner(put(p), static_cast<std::uint32_t>(axis));
      };
      for (int i = 0; i < n; ++i) {
        for (int j = 0; j < n; ++j) {
          const int k = side > 0 ? 1 : 0;
          builder.square(
              {place(i, j), place(i + k, j + 1 - k), place(i + 1, j + 1), place(i + 1 - k, j + k)});
        }
      }
    }
  }
  return builder.surface;
}

double volume(const page::Surface& s) {
  double sum = 0;
  const auto at = [&](std::size_t t, std::size_t a) {
    return double(s.vertices[std::size_t{3} * s.triangles[t] + a]);
  };
  for (std::size_t t = 0; t < s.triangles.size(); t += 3) {
    const std::size_t b = t + 1, c = t + 2;
    sum += at(t, 0) * (at(b, 1) * at(c, 2) - at(b, 2) * at(c, 1)) +
           at(t, 1) * (at(b, 2) * at(c, 0) - at(b, 0) * at(c, 2)) +
           at(t, 2) * (at(b, 0) * at(c, 1) - at(b, 1) * at(c, 0));
  }
  return sum / 6;
}

TEST(Simplified, ABoxNeedsTwelveTriangles) {
  const page::Surface fine = cube(20, [](const Place& p) { return p; });
  ASSERT_EQ(fine.triangles.size() / 3, 6u * 20 * 20 * 2);
  ASSERT_TRUE(closed(fine));
  const page::Surface coarse = simplified(fine, 0.001);
  EXPECT_EQ(coarse.triangles.size() / 3, 12u);
  EXPECT_EQ(coarse.vertices.size() / 3, 8u);
  EXPECT_TRUE(closed(coarse));
  EXPECT_NEAR(volume(coarse), 8, 1e-6);
}

TEST(Simplified, ABallKeepsItsCornersAndNearlyItsVolume) {
  const page::Surface fine = cube(40, [](const Place& p) {
    const float r = std::sqrt(p[0] * p[0] + p[1] * p[1] + p[2] * p[2]);
    return Place{p[0] / r, p[1] / r, p[2] / r};
  });
  ASSERT_TRUE(closed(fine));
  double last = 4 * std::numbers::pi / 3;
  std::size_t count = fine.triangles.size();
  for (const double tolerance : {0.0005, 0.002, 0.008}) {
    const page::Surface coarse = simplified(fine, tolerance);
    EXPECT_TRUE(closed(coarse));
    EXPECT_LT(coarse.triangles.size(), count) << tolerance;
    ASSERT_EQ(coarse.made_by.size(), coarse.vertices.size() / 3);
    for (std::size_t v = 0; v < coarse.vertices.size(); v += 3) {
      EXPECT_NEAR(std::hypot(coarse.vertices[v], coarse.vertices[v + 1], coarse.vertices[v + 2]), 1,
                  1e-6);
    }
    // Corners on the ball, so the flat triangles lie inside it, and the coarser the further.
    EXPECT_LT(volume(coarse), last);
    EXPECT_GT(volume(coarse), 4 * std::numbers::pi / 3 * std::pow(1 - 6 * tolerance, 3))
        << tolerance;
    last = volume(coarse);
    count = coarse.triangles.size();
  }
}

// Surfaces of random waves, which touch and fold as milled ones do, at random tolerances.
TEST(Simplified, WavesStayClosedWithoutFlaps) {
  for (unsigned seed = 1; seed <= 12; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> any(-1, 1);
    std::array<std::array<double, 4>, 6> wave;
    for (auto& w : wave)
      for (double& v : w) v = 3 * any(random);
    page::Lattice lattice = page::lattice_over(Box3(Vec3(-2, -2, -2), Vec3(2, 2, 2)), 0.15);
    for (int k = 0; k < lattice.count[2]; ++k)
      for (int j = 0; j < lattice.count[1]; ++j)
        for (int i = 0; i < lattice.count[0]; ++i) {
          const Vec3 p = lattice.place(i, j, k);
          double value = 0.3 * any(random);  // noise at the voxels
          for (const auto& w : wave)
            value += std::cos(w[0] * p.x() + w[1] * p.y() + w[2] * p.z() + w[3]);
          // Closed by the box of side 3.6.
          lattice.values[lattice.index(i, j, k)] =
              static_cast<float>(std::max(value / 6, p.cwiseAbs().maxCoeff() - 1.8));
        }
    const page::Surface fine = page::surface_nets(lattice).surface;
    ASSERT_TRUE(closed(fine)) << "seed " << seed;
    const double tolerance = 0.02 + 0.02 * any(random);
    const page::Surface coarse = simplified(fine, tolerance);
    EXPECT_TRUE(closed(coarse)) << "seed " << seed << ", tolerance " << tolerance;
    EXPECT_LT(coarse.triangles.size(), fine.triangles.size());
    std::set<std::array<std::uint32_t, 3>> faces;
    for (std::size_t t = 0; t < coarse.triangles.size(); t += 3) {
      std::array<std::uint32_t, 3> c = {coarse.triangles[t], coarse.triangles[t + 1],
                                        coarse.triangles[t + 2]};
      std::sort(c.begin(), c.end());
      EXPECT_TRUE(faces.insert(c).second) << "seed " << seed << ": a flap";
    }
    // The surface moves by about the tolerance at most, over an area of at most some 200 mm2.
    EXPECT_NEAR(volume(coarse), volume(fine), 200 * tolerance) << "seed " << seed;
  }
}

TEST(Simplified, AnOpenSurfaceIsToldFromAClosedOne) {
  page::Surface box = cube(3, [](const Place& p) { return p; });
  EXPECT_TRUE(closed(box));
  box.triangles.resize(box.triangles.size() - 3);
  EXPECT_FALSE(closed(box));
  EXPECT_TRUE(simplified({}, 0.1).empty());
}

}  // namespace
}  // namespace proveout::mesh_files
