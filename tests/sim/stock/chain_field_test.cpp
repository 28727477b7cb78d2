// The field that chains of short motions leave, voxel by voxel, against a slow twin that knows no
// chains, pieces or bounds: the largest of -distance over all motions, each by many poses of the
// tool's outline in double precision. Seeded; a failure prints seed, place and both values.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "sim/stock/distance_reader.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

constexpr double voxel = 0.2, diameter = 6, radius = 3, top = 10, bull_corner = 1;
const Vec3 block(26, 22, top);

// Distance to the tool at rest, tip at the origin; its top far above. Flat: the largest of the
// distances to the faces, as docs/engine.md says.
double at_rest(job::ToolShape shape, double rho, double z) {
  if (shape == job::ToolShape::flat) return std::max(rho - radius, -z);
  const double corner = shape == job::ToolShape::ball ? radius : bull_corner;
  const double core = radius - corner;
  const double beside = std::max(rho - core, 0.0), below = std::max(corner - z, 0.0);
  return std::hypot(beside, below) + std::min(std::max(rho - core, corner - z), 0.0) - corner;
}

double swept(job::ToolShape shape, const nc::Motion& m, const Vec3& p) {
  const Vec3 step = m.end - m.start;
  const int poses = static_cast<int>(step.norm() / (0.08 * voxel)) + 2;
  double least = 1e30;
  for (int i = 0; i <= poses; ++i) {
    const Vec3 from_tip = p - (m.start + step * i / poses);
    least = std::min(least, at_rest(shape, std::hypot(from_tip.x(), from_tip.y()), from_tip.z()));
  }
  return least;
}

// Rows there and back over a wavy floor, in motions of about one to four voxels.
std::vector<nc::Motion> rows(std::mt19937& random) {
  std::uniform_real_distribution<double> u(0, 1);
  const double over = 0.3 + 1.5 * u(random), each = voxel * (1.1 + 3 * u(random));
  const double turn = 2 * pi * u(random), depth = 1 + 2 * u(random), wave = 1.2 * u(random);
  const double period = 3 + 4 * u(random);
  std::vector<nc::Motion> out;
  const auto at = [&](double along, double across) {
    const double a = along - 4, b = across - 2;
    const double z = top - depth + wave * std::sin(along / period) * std::cos(across / 2);
    return Vec3(block.x() / 2 + a * std::cos(turn) - b * std::sin(turn),
                block.y() / 2 + a * std::sin(turn) + b * std::cos(turn), z);
  };
  for (int row = 0; row * over < 4; ++row) {
    const int count = static_cast<int>(8 / each);
    for (int i = 0; i < count; ++i) {
      const double from = row % 2 == 0 ? i * each : (count - i) * each;
      const double to = row % 2 == 0 ? from + each : from - each;
      out.push_back(line(at(from, row * over), at(to, row * over)));
    }
  }
  return out;
}

void compare(job::ToolShape shape, unsigned seed) {
  std::mt19937 random(seed);
  job::Tool tool = tool_of(shape, diameter);
  if (shape == job::ToolShape::bull) tool.corner_radius = bull_corner;
  const std::vector<nc::Motion> motions = rows(random);
  const Cutting done = cut_box(block, voxel, tool, motions);
  const Stock::Fields& fields = done.stock.fields();
  const DistanceReader distance(fields);
  const double band = 3 * voxel;
  std::uniform_real_distribution<double> u(0, 1);
  int compared = 0;
  double worst = 0;
  for (int n = 0; n < 6000; ++n) {
    const double x = 4 + u(random) * (block.x() - 8), y = 4 + u(random) * (block.y() - 8),
                 z = 4 + u(random) * (top - 4.5);
    const openvdb::Coord index = fields.holding({x, y, z});
    const Vec3 p = fields.middle(index);
    double depth = p.z() - top;
    for (const nc::Motion& m : motions) {
      if ((p - m.start).head<2>().norm() > radius + band + (m.end - m.start).norm()) continue;
      depth = std::max(depth, -swept(shape, m, p));
    }
    const double stored = distance.at(index);
    if (std::abs(depth) >= 0.99 * band) {
      EXPECT_GT(stored * depth, 0) << "seed " << seed << " at " << index;
      continue;
    }
    ++compared;
    const double off = std::abs(stored - depth) / voxel;
    worst = std::max(worst, off);
    if (shape != job::ToolShape::ball) {
      // On a ramp the engine makes a distance of what the poses say, to first order: the surface is
      // the same, values away from it differ the more the further they lie.
      if (std::abs(depth) > 0.05 * voxel) {
        EXPECT_GT(stored * depth, 0)
            << "seed " << seed << " at " << index << ": " << stored << ", twin " << depth;
      }
      EXPECT_LT(off, 0.02 + 0.45 * std::abs(depth) / voxel)
          << "seed " << seed << " at " << index << ": " << stored << ", twin " << depth;
      continue;
    }
    EXPECT_LT(off, 0.01) << "seed " << seed << " at " << index << ": " << stored << ", twin "
                         << depth;
  }
  EXPECT_GT(compared, 200);
  fmt::print("seed {}: {} motions, {} voxels, worst {:.4f} voxel\n", seed, motions.size(), compared,
             worst);
}

TEST(ChainField, BallIsTheTwinsVoxelByVoxel) {
  for (unsigned seed = 1; seed <= 12; ++seed) compare(job::ToolShape::ball, seed);
}
TEST(ChainField, FlatHasTheTwinsSurface) {
  for (unsigned seed = 21; seed <= 32; ++seed) compare(job::ToolShape::flat, seed);
}
TEST(ChainField, BullNoseHasTheTwinsSurface) {
  for (unsigned seed = 41; seed <= 46; ++seed) compare(job::ToolShape::bull, seed);
}

}  // namespace
}  // namespace proveout::stock
