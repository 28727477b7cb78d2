// Stability against published cases and against a sweep that knows nothing of lobes. The inputs of
// C1 and C2 are printed in Altintas, "Manufacturing Automation" (2nd edition 2012), pages 131 and
// 162, those of C3 in Insperger and Stepan (2004); the limits were computed from them apart from
// this project.
#include "sim/cutting/stability.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "parser/base/geometry.h"
#include "sim/cutting/zero_order.h"

namespace proveout::cutting {
namespace {

using Complex = std::complex<double>;

// A residue sigma + i nu (m/N) as a term.
ResponseTerm residue(double f, double zeta, double sigma, double nu) {
  const double wn = 2 * pi * f, wd = wn * std::sqrt(1 - zeta * zeta);
  return {f, zeta, 2e3 * (zeta * wn * sigma - wd * nu), 2e3 * sigma};
}

struct C2 {
  Response x = {residue(452.77, 0.123718, 9.202966e-5, -1.862195e-4),
                residue(1448.53, 0.01651, -4.181562e-5, -3.043618e-4)};
  Response y = {residue(516.17, 0.0243, -2.3929e-6, -1.721539e-4),
                residue(1407.64, 0.0324, 4.055052e-5, -3.618808e-4)};
  Cutting cutting{2, 1319.4, 788.83 / 1319.41, pi / 2, pi};
};

TEST(ZeroOrder, DirectionalFactorsOfC2) {
  const C2 c;
  const auto a = directional_factors(c.cutting.kr, c.cutting.enter, c.cutting.exit);
  EXPECT_NEAR(a[0], 0.0608747, 2e-6);
  EXPECT_NEAR(a[1], -0.972931, 2e-6);
  EXPECT_NEAR(a[2], 2.16866, 1e-5);
  EXPECT_NEAR(a[3], -1.93913, 1e-5);
  // Static stiffness 4.887 and 5.314 N/um.
  EXPECT_NEAR(1e-3 / response_at(c.x, 0).real(), 4.887, 5e-4);
  EXPECT_NEAR(1e-3 / response_at(c.y, 0).real(), 5.314, 5e-4);
}

TEST(ZeroOrder, HalfImmersionDownMillingOfC2) {
  const C2 c;
  const ZeroOrder zero(c.x, c.y, c.cutting);
  EXPECT_NEAR(zero.least(), 1.0147, 0.003);
  EXPECT_NEAR(zero.least_frequency(), 1440.75, 1.5);
  for (const auto& [rpm, depth] : {std::pair{5000.0, 1.027},
                                   {7000.0, 2.205},
                                   {9500.0, 1.021},
                                   {11000.0, 2.122},
                                   {12000.0, 1.017},
                                   {13000.0, 1.629},
                                   {14000.0, 5.021},
                                   {15000.0, 1.859},
                                   {16000.0, 1.108}})
    EXPECT_NEAR(zero.limit(rpm), depth, 0.01 * depth) << rpm;
  // The book's cut (value from memory): 2 mm chatters at 9500 1/min and is quiet at 14 000.
  EXPECT_LT(zero.limit(9500), 2);
  EXPECT_GT(zero.limit(14000), 2);
}

// A second answer that knows no lobes: at one spindle speed, every chatter frequency is tried with
// the true delay 1 - exp(-i w T); where the depth that makes the determinant vanish turns real and
// positive, chatter may begin.
double by_sweep(const Response& x, const Response& y, const Cutting& c, double rpm) {
  const auto [axx, axy, ayx, ayy] = directional_factors(c.kr, c.enter, c.exit);
  const double period = 60 / (rpm * c.teeth);
  double least = 1e9;
  std::array<Complex, 2> before{};
  const double top =
      2.5 * std::max(x.empty() ? 0 : x.back().frequency, y.empty() ? 0 : y.back().frequency);
  bool have = false;
  for (double f = 20; f < top; f += 0.05) {
    const Complex gx = response_at(x, f), gy = response_at(y, f);
    const Complex delay = 1.0 - std::polar(1.0, -2 * pi * f * period);
    // det(I - a kt N / (4 pi) delay A G) = 0, a quadratic in a.
    const Complex s = c.kt * c.teeth / (4 * pi) * delay;
    const Complex q2 = s * s * gx * gy * (axx * ayy - axy * ayx), q1 = -s * (axx * gx + ayy * gy);
    const Complex root = std::sqrt(q1 * q1 - 4.0 * q2);
    std::array<Complex, 2> a{(-q1 + root) / (2.0 * q2), (-q1 - root) / (2.0 * q2)};
    if (have && std::abs(a[0] - before[0]) + std::abs(a[1] - before[1]) >
                    std::abs(a[1] - before[0]) + std::abs(a[0] - before[1]))
      std::swap(a[0], a[1]);
    if (have) {
      for (std::size_t k = 0; k < 2; ++k) {
        const double i0 = before[k].imag(), i1 = a[k].imag();
        if ((i0 < 0) == (i1 < 0)) continue;
        const double share = i0 / (i0 - i1),
                     depth = before[k].real() + share * (a[k].real() - before[k].real());
        // Where the delay passes zero the depth jumps through infinity: no crossing.
        if (depth > 0 && std::abs(i1 - i0) < 0.5 * depth) least = std::min(least, depth);
      }
    }
    before = a;
    have = true;
  }
  return least;
}

TEST(ZeroOrder, OneDirectionOnlyOfC3) {
  const Response x = {plain_mode(922, 0.011, 1340.04965)};
  const auto at = [&](double enter, double exit) {
    return ZeroOrder(x, {}, Cutting{2, 600, 1.0 / 3, enter, exit});
  };
  const ZeroOrder slot = at(0, pi), up = at(0, pi / 2), down = at(pi / 2, pi);
  EXPECT_NEAR(slot.least(), 0.298054, 0.003);
  EXPECT_NEAR(slot.least_frequency(), 932.1, 1);
  EXPECT_NEAR(up.least(), 0.204858, 0.002);
  EXPECT_NEAR(down.least(), 0.640908, 0.006);
  EXPECT_NEAR(down.least_frequency(), 911.8, 1);
  struct Row {
    double rpm, slot, up, down;  // 0: stable
  };
  for (const Row& r : {Row{5000, 0.368, 0.253, 0.917}, Row{10000, 0.307, 0.211, 0},
                       Row{12500, 2.041, 1.403, 0.682}, Row{20000, 1.552, 1.067, 0.793},
                       Row{25000, 5.795, 3.983, 0}}) {
    EXPECT_NEAR(slot.limit(r.rpm), r.slot, 0.01 * r.slot + 5e-4) << r.rpm;
    EXPECT_NEAR(up.limit(r.rpm), r.up, 0.01 * r.up + 5e-4) << r.rpm;
    if (r.down > 0) {
      EXPECT_NEAR(down.limit(r.rpm), r.down, 0.01 * r.down + 5e-4) << r.rpm;
    } else {
      // The published comparison calls these stable: it follows frequencies near the mode only. The
      // equation has a root further below it; the sweep finds the same.
      const Response stiff = {plain_mode(922, 0.011, 1e12)};
      const double swept = by_sweep(x, stiff, Cutting{2, 600, 1.0 / 3, pi / 2, pi}, r.rpm);
      EXPECT_NEAR(down.limit(r.rpm), swept, 0.02 * swept) << r.rpm;
    }
  }
}

// C1: two modes at angles to the cut, one cutting edge always in it.
TEST(AverageTooth, OrthogonalCutOfC1) {
  const double c1 = std::pow(std::cos(pi / 6), 2), c2 = 0.5;
  const Response oriented = {plain_mode(250, 0.012, 2.26e5 / c1),
                             plain_mode(150, 0.010, 2.13e5 / c2)};
  EXPECT_NEAR(average_tooth_limit(oriented, 1000, 1, 2 * pi, 11847.7), 9.458, 0.02);
  EXPECT_NEAR(average_tooth_limit(oriented, 1000, 1, 2 * pi, 20262.1), 7.185, 0.02);
  EXPECT_NEAR(average_tooth_limit(oriented, 1000, 1, 2 * pi, 8678.0), 7.185, 0.02);
  EXPECT_NEAR(average_tooth_limit(oriented, 1000, 1, 2 * pi, 5521.3), 7.185, 0.02);
  // One mode alone in closed form: 2 k zeta (1 + zeta) / Kf over the cosine's square.
  EXPECT_NEAR(least_limit({2.26e5 / c1, 250, 0.012}, 1000, 1, 2 * pi), 7.31878, 1e-4);
  EXPECT_NEAR(least_limit({2.13e5 / c2, 150, 0.010}, 1000, 1, 2 * pi), 8.60520, 1e-4);
}

// C4: half immersion up milling, force direction 68 degrees, three teeth (factors from memory).
TEST(AverageTooth, HalfImmersionOfC4) {
  const double mu_x = std::cos(pi / 4) * std::cos(23 / deg_per_rad),
               mu_y = std::cos(pi / 4) * std::cos(67 / deg_per_rad);
  const Response oriented = {plain_mode(500, 0.05, 8e3 / (mu_x + mu_y))};
  double least = 1e9;
  for (double n = 3000; n < 15000; n += 11)
    least = std::min(least, average_tooth_limit(oriented, 750, 3, pi / 2, n));
  EXPECT_NEAR(least, 1.6106, 0.005);
  for (double n : {13843.0, 5967.0, 3803.0})
    EXPECT_NEAR(average_tooth_limit(oriented, 750, 3, pi / 2, n), 1.6106, 0.01) << n;
  for (double n : {10000.0, 5000.0, 3333.0})
    EXPECT_GT(average_tooth_limit(oriented, 750, 3, pi / 2, n), 3) << n;
}

TEST(AverageTooth, SpotValues) {
  // 2 k zeta (1 + zeta) / Ks: k 2e7 N/m, zeta 0.05, Ks 2000: 1.0500 mm.
  EXPECT_NEAR(least_limit({2e4, 500, 0.05}, 2000, 1, 2 * pi), 1.05, 1e-6);
}

TEST(ZeroOrder, AgreesWithASweepAtEachSpeed) {
  for (unsigned seed = 1; seed <= 12; ++seed) {
    std::mt19937 random(seed);
    const auto u = [&](double a, double b) {
      return std::uniform_real_distribution<double>(a, b)(random);
    };
    const double f = u(600, 2500);
    const Response x = {plain_mode(f, u(0.02, 0.06), u(2e3, 2e4))};
    const Response y = {plain_mode(f * u(0.8, 1.3), u(0.02, 0.06), u(2e3, 2e4))};
    const double width = u(0.6, pi);
    const bool up = u(0, 1) < 0.5;
    const Cutting c{1 + static_cast<int>(u(1, 4)), u(500, 2000), u(0.1, 0.6), up ? 0 : pi - width,
                    up ? width : pi};
    const ZeroOrder zero(x, y, c);
    for (int k = 0; k < 3; ++k) {
      const double rpm = u(6000, 24000);
      const double swept = by_sweep(x, y, c, rpm);
      if (swept > 20 * zero.least())
        continue;  // a deep pocket between lobes: both say 'not limited'
      EXPECT_NEAR(zero.limit(rpm), swept, 0.02 * swept)
          << "seed " << seed << " rpm " << rpm << " teeth " << c.teeth;
    }
  }
}

// A spindle that all but stands still: lobes without number, and the answer is the least limit, at
// once.
TEST(ZeroOrder, StandsUpToSpeedsNearNothing) {
  const Response x = {plain_mode(1200, 0.03, 3e3)};
  const ZeroOrder zero(x, x, Cutting{2, 900, 0.3, pi / 2, pi});
  for (double rpm : {1e-9, 1e-3, 1.0, 30.0})
    EXPECT_NEAR(zero.limit(rpm), zero.least(), 0.01 * zero.least()) << rpm;
}

// Stiffer never chatters sooner; twice the force half the depth.
TEST(ZeroOrder, Invariants) {
  for (double rpm : {5000.0, 9000.0, 18000.0}) {
    const Cutting c{2, 900, 0.3, pi / 2, pi};
    Cutting twice = c;
    twice.kt *= 2;
    const Response soft = {plain_mode(1200, 0.03, 3e3)}, stiff = {plain_mode(1200, 0.03, 6e3)};
    const double one = ZeroOrder(soft, soft, c).limit(rpm);
    EXPECT_NEAR(ZeroOrder(stiff, stiff, c).limit(rpm), 2 * one, 1e-9 * one);
    EXPECT_NEAR(ZeroOrder(soft, soft, twice).limit(rpm), one / 2, 1e-9 * one);
  }
}

}  // namespace
}  // namespace proveout::cutting
