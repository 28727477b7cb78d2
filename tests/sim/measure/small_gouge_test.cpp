// A gouge of a quarter of a voxel is found and its depth right to a tenth of a voxel, in any place
// and at any angle against the grid. Truth: the pass is programmed that much below the part's face.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>

#include "tests/sim/measure/compared_scene.h"

namespace proveout::measure {
namespace {

using stock::line;

constexpr double voxel = 0.2;
constexpr int placements = 60;

Eigen::Matrix3d turned(std::mt19937& random) {
  std::uniform_real_distribution<double> u(0, 1);
  // Uniform over all rotations: Shoemake, "Uniform random rotations", Graphics Gems III (1992).
  const double a = u(random), b = 2 * pi * u(random), c = 2 * pi * u(random);
  return Eigen::Quaterniond(std::sqrt(a) * std::cos(c), std::sqrt(1 - a) * std::sin(b),
                            std::sqrt(1 - a) * std::cos(b), std::sqrt(a) * std::sin(c))
      .toRotationMatrix();
}

// Worst gouge by the last motion, over a flat face at z = 0 of the setup frame that is cut true but
// for that pass, depth too deep.
double found_depth(const RigidMotion& pose, const Vec3& size, const job::Tool& last, double depth) {
  const Vec3 low = -0.5 * size, high = 0.5 * size;
  Scene s{low, high, box_mesh(low, {high.x(), high.y(), 0}), {}, voxel};
  s.turn = pose;
  s.gouge_tolerance = 0.1 * voxel;
  s.excess_tolerance = 1e9;
  std::vector<nc::Motion> face;
  for (double y = -12; y <= 12; y += 4) face.push_back(line({-14, y, 0}, {14, y, 0}));
  const std::size_t first = face.size();
  s.passes = {{stock::tool_of(job::ToolShape::flat, 6), face},
              {last, {line({-14, 0.7, -depth}, {14, 0.7, -depth})}}};
  double worst = 0;
  for (const DeviationRegion& r : compare_scene(s).found.gouges) {
    if (r.by == first + 1) worst = std::max(worst, r.depth);
    EXPECT_TRUE(r.by == 0 || r.by == first + 1) << "accused " << r.by << " of " << r.depth;
  }
  return worst;
}

void holds_over_placements(job::ToolShape shape, double depth, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(0, 1);
  double squares = 0, worst = 0;
  for (int n = 0; n < placements; ++n) {
    const Vec3 size(11 + 2 * u(random), 10 + 2 * u(random), 9 + 2 * u(random));
    RigidMotion pose = RigidMotion::Identity();
    pose.linear() = turned(random);
    pose.translation() = 10 * Vec3(u(random), u(random), u(random));
    const double got = found_depth(pose, size, stock::tool_of(shape, 6), depth);
    const double off = (got - depth) / voxel;
    EXPECT_NEAR(off, 0, 0.1) << "seed " << seed << " case " << n << ": depth " << depth << " found "
                             << got << ", size " << size.transpose() << ", pose\n"
                             << pose.matrix();
    squares += off * off;
    worst = std::max(worst, std::abs(off));
  }
  fmt::print("{} placements, gouge {:g} of a voxel: rms {:.4f}, worst {:.4f} voxel\n", placements,
             depth / voxel, std::sqrt(squares / placements), worst);
}

TEST(SmallGouge, OfAFlatEndAnywhere) {
  holds_over_placements(job::ToolShape::flat, 0.25 * voxel, 21);
}

TEST(SmallGouge, OfABallEndAnywhere) {
  holds_over_placements(job::ToolShape::ball, 0.25 * voxel, 22);
}

TEST(SmallGouge, ALargerOneTooStaysWithinATenth) {
  holds_over_placements(job::ToolShape::flat, 0.6 * voxel, 23);
}

}  // namespace
}  // namespace proveout::measure
