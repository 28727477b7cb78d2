// A gouge of a quarter of a voxel is found and its depth right to a tenth of a voxel, in any place
// and at any angle against the grid. Truth: the pass is programmed that much below the part's face.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>

#include "sim/measure/deviation.h"
#include "tests/sim/measure/box_mesh.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::measure {
namespace {

using stock::Cutting;
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

// Worst gouge by a motion of the setup, over a flat face at z = 0 of the setup frame that is cut
// true but for one pass depth too deep.
double found_depth(const RigidMotion& stock_from_setup, const Vec3& size, const job::Tool& last,
                   double depth) {
  std::vector<nc::Motion> face;
  const auto body = solid::make_tool_body(stock::tool_of(job::ToolShape::flat, 6));
  const auto other = solid::make_tool_body(last);
  for (double y = -12; y <= 12; y += 4) face.push_back(line({-14, y, 0}, {14, y, 0}));
  const std::size_t first = face.size();
  face.push_back(line({-14, 0.7, -depth}, {14, 0.7, -depth}));
  stock::Stock stock = stock::Stock::box(size, voxel);
  const std::vector<stock::ToolRun> uses = {{0, first, &body}, {first, first + 1, &other}};
  stock.cut(face, uses, stock_from_setup, 1, {});
  mesh::Mesh mesh = box_mesh({-40, -40, -40}, {40, 40, 0});
  for (Vec3& v : mesh.vertices) v = stock_from_setup * v;
  double worst = 0;
  for (const DeviationSpot& s :
       deviation(stock, solid::PartDistance(mesh), 0.1 * voxel, 1e9, {}).gouges) {
    if (s.by == first + 1) worst = std::max(worst, -s.deviation);
    EXPECT_TRUE(s.by == 0 || s.by == first + 1) << "accused " << s.by << " of " << s.deviation;
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
    // The face runs near the block's middle.
    pose.translation() = 0.5 * size + Vec3(u(random), u(random), u(random));
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
