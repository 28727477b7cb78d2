#include "sim/stock/planar_length.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace proveout::stock {
namespace {

// Whole numbers of right triangles, (m m - n n, 2 m n, m m + n n): Euclid, Elements X, 29; exact in
// a float below 2^24, and at any power of two.
TEST(PlanarLength, OfRightTrianglesIsExact) {
  for (int m = 2; m <= 2000; m += 7) {
    for (int n = 1; n < m; n += 13) {
      const auto a = static_cast<float>(m * m - n * n), b = static_cast<float>(2 * m * n);
      const auto c = static_cast<float>(m * m + n * n);
      ASSERT_EQ(planar_length(a, b), c);
      ASSERT_EQ(planar_length(-b * 0x1p-20f, a * 0x1p-20f), c * 0x1p-20f);
    }
  }
}

// The nearest float, by a longer type; a tie that double's rounding makes is told by a hair.
TEST(PlanarLength, IsTheNearestFloat) {
  std::mt19937_64 random(32);
  std::uniform_real_distribution<float> place(-200, 200), shift(0, 30);
  for (int i = 0; i < 300000; ++i) {
    const float x = place(random) * std::exp2(-std::floor(shift(random)));
    const float y = place(random) * std::exp2(-std::floor(shift(random)));
    const long double exact =
        std::sqrt(static_cast<long double>(x) * x + static_cast<long double>(y) * y);
    const float length = planar_length(x, y);
    const long double last_place = std::nextafter(length, 1e30f) - length;
    ASSERT_LE(std::abs(length - exact), last_place * (0.5L + 1e-8L)) << x << ' ' << y;
    ASSERT_EQ(planar_length(y, -x), length);
  }
}

TEST(PlanarLength, OfNothingIsNothing) {
  EXPECT_EQ(planar_length(0, 0), 0);
  EXPECT_EQ(planar_length(-0.f, 3e-20f), 3e-20f);
}

}  // namespace
}  // namespace proveout::stock
