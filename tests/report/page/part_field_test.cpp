// The lattice of distances against closed forms: a box, whose distance is exact, and a thin plate.
#include "report/page/build/part_field.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/sim/measure/box_mesh.h"

namespace proveout::page {
namespace {

double from_box(const Vec3& p, const Vec3& low, const Vec3& high) {
  const Vec3 out = (low - p).cwiseMax(p - high);
  return out.maxCoeff() > 0 ? out.cwiseMax(0).norm() : out.maxCoeff();
}

// As the page reads it: linear between the lattice's points.
double read(const Lattice& field, const Vec3& at) {
  const Vec3 i = (at - field.origin) / field.step;
  const Eigen::Vector3i c = i.array().floor().cast<int>().matrix();
  double sum = 0;
  for (int k = 0; k < 8; ++k) {
    const Eigen::Vector3i n = c + Eigen::Vector3i(k & 1, k >> 1 & 1, k >> 2);
    const Vec3 f = Vec3::Ones() - (i - n.cast<double>()).cwiseAbs();
    sum += f.prod() * field.values[field.index(n.x(), n.y(), n.z())];
  }
  return sum;
}

TEST(PartField, IsTheDistanceAndItsSign) {
  std::mt19937 random(5);
  for (const double reach : {0.4, 1.6, 8.0}) {
    for (const Vec3& size : {Vec3(40, 30, 20), Vec3(40, 30, 0.6), Vec3(3, 2, 1)}) {
      const Vec3 low(7, -3, 2), high = low + size;
      const solid::PartDistance part(measure::box_mesh(low, high));
      const Lattice field = part_field(part, reach, 60000);
      const double near = reach + 2 * field.step;
      for (int k = 0; k < field.count[2]; ++k)
        for (int j = 0; j < field.count[1]; ++j)
          for (int i = 0; i < field.count[0]; ++i)
            ASSERT_NEAR(field.values[field.index(i, j, k)],
                        std::clamp(from_box(field.place(i, j, k), low, high), -near, near), 1e-4)
                << "reach " << reach << ", size " << size.transpose() << ", at " << i << ' ' << j
                << ' ' << k;
      // Between the points, on and about the top face away from its edges, it is exact.
      if (size.z() < 4 * field.step) continue;
      std::uniform_real_distribution<double> share(0.3, 0.7), off(-0.3, 0.3);
      for (int n = 0; n < 200; ++n) {
        const double away = off(random) * reach;
        const Vec3 at(low.x() + share(random) * size.x(), low.y() + share(random) * size.y(),
                      high.z() + away);
        if (std::abs(away) + field.step < reach) {
          ASSERT_NEAR(read(field, at), away, 1e-3) << n;
        }
      }
    }
  }
}

}  // namespace
}  // namespace proveout::page
