// Loads against formulas and tables. Sources at each check.
#include <gtest/gtest.h>

#include <cmath>

#include "sim/cutting/beam.h"
#include "sim/cutting/load.h"
#include "sim/cutting/stability.h"
#include "tests/sim/cutting/samples.h"

namespace proveout::cutting {
namespace {

job::Tool tool(double diameter, int flutes, double stickout) {
  job::Tool t;
  t.shape = job::ToolShape::flat;
  t.diameter = diameter;
  t.flutes = flutes;
  t.stickout = stickout;
  t.flute_length = stickout;
  return t;
}

stock::EngagementSample sample(double depth, double width, double, double from, double to) {
  return sample_of(depth, width, from, to);
}

TEST(Beam, UniformBarClosedForm) {
  // F L^3 / (3 E I), I = pi d^4 / 64: 10 N, 30 mm, d 4.8 (0.8 x 6), 600 GPa: 0.005756 mm.
  EXPECT_NEAR(10 * beam_of(tool(6, 2, 30)).compliance(0, 0), 0.005756, 5e-7);
}

TEST(Beam, SteppedBar) {
  // D 6 shank, flute 13 mm at 4.8, L 30, F 100, E 600: 26.3440 um (computed from the closed form).
  job::Tool t = tool(6, 2, 30);
  t.flute_length = 13;
  EXPECT_NEAR(100 * beam_of(t).compliance(0, 0) * 1000, 26.3440, 5e-4);
}

TEST(Beam, FourthPowerRule) {
  const double thin = beam_of(tool(6.35, 2, 40)).compliance(0, 0);
  const double thick = beam_of(tool(9.525, 2, 40)).compliance(0, 0);
  EXPECT_NEAR(thin / thick, 5.0625, 1e-9);
}

TEST(Beam, ModesOfAUniformBar) {
  // Euler-Bernoulli cantilever: f = b^2 / (2 pi L^2) sqrt(E I / (rho A)), b
  // = 1.875104, 4.694091, 7.854757; at the tip every mode has a quarter of the bar's mass.
  const auto modes = beam_of(tool(6, 2, 30)).tip_modes(3);
  ASSERT_EQ(modes.size(), 3u);
  const double d = 4.8e-3, e = 600e9, rho = 14500, i = pi * std::pow(d, 4) / 64, a = pi * d * d / 4;
  const double roots[] = {1.875104, 4.694091, 7.854757};
  for (std::size_t k = 0; k < 3; ++k) {
    const double exact =
        roots[k] * roots[k] / (2 * pi * 0.03 * 0.03) * std::sqrt(e * i / (rho * a));
    EXPECT_NEAR(modes[k].frequency, exact, 0.01 * exact) << k;
    const double w = 2 * pi * exact, mass = rho * a * 0.03 / 4;
    EXPECT_NEAR(modes[k].stiffness * 1000, w * w * mass, 0.02 * w * w * mass) << k;
  }
}

TEST(Chip, Thinning) {
  // h_max / fz = 2 sqrt(x (1 - x)), h_mean / fz = 2 x / phi, x = ae / D (Martellotti 1941's
  // circular path).
  const LoadModel model(tool(10, 2, 30), built_in_materials().front());
  for (const auto& [x, most, mean] :
       {std::tuple{0.25, 0.866025, 0.477465}, std::tuple{0.1, 0.6, 0.310800},
        std::tuple{0.05, 0.435890, 0.221716}, std::tuple{1.0, 1.0, 0.636620}}) {
    const double phi = std::acos(1 - 2 * x) * deg_per_rad;
    const CutLoad l = model.at(sample(2, x * 10, 10, 90 - phi, 90), 1000, 10000, true);
    EXPECT_NEAR(l.chip_mm / 0.05, most, 1e-5);
    EXPECT_NEAR(l.mean_chip_mm / 0.05, mean, 1e-5);
  }
}

TEST(Power, IsRateTimesSpecificForce) {
  // P = Q kc / 60 000: 10 800 mm3/min at kc 1000 N/mm2 is 180 W.
  Material m = built_in_materials().front();
  m.kc11 = 1000;
  m.mc = 0;
  const LoadModel model(tool(6, 2, 30), m);
  EXPECT_NEAR(model.at(sample(2, 6, 6, -90, 90), 900, 18000, true).power_w.likely, 180.0, 1e-4);
}

TEST(Force, SlotWithOneStraightTooth) {
  // Slot, one tooth, no helix, Kt 600, Kr 180, 1 mm deep, fz 0.1: peak resultant c sqrt(Kt^2 +
  // Kr^2) a = 62.642 N (mechanistic model, Altintas, "Manufacturing Automation"; closed form).
  Material m = built_in_materials().front();
  m.kc11 = 600;
  m.mc = 0;
  m.kr = 0.3;
  job::Tool t = tool(10, 1, 30);
  t.helix_angle = 0;
  const LoadModel model(t, m);
  EXPECT_NEAR(model.at(sample(1, 10, 10, -90, 90), 1000, 10000, true).force_n.likely, 62.642, 0.01);
}

TEST(Force, LinearInDepthAndAlikeBothWays) {
  Material m = built_in_materials().front();
  job::Tool t = tool(6, 3, 25);
  t.helix_angle = 0;
  const LoadModel model(t, m);
  const double one = model.at(sample(1, 1.5, 6, 30, 90), 900, 18000, true).force_n.likely;
  EXPECT_NEAR(model.at(sample(2, 1.5, 6, 30, 90), 900, 18000, true).force_n.likely, 2 * one, 1e-9);
  // Mirror image: the other side with the spindle the other way.
  EXPECT_NEAR(model.at(sample(1, 1.5, 6, -90, -30), 900, 18000, false).force_n.likely, one, 1e-9);
}

TEST(Stability, LeastLimitOfOneMode) {
  // b = 2 k zeta (1 + zeta) / (Ks N*): k 1e7 N/m, zeta 0.03, Ks 2000, one tooth always in cut:
  // 0.3090 mm (computed).
  const Mode m{1e4, 500, 0.03};
  EXPECT_NEAR(least_limit(m, 2000, 1, 2 * pi), 0.3090, 5e-5);
  double least = 1e9;
  for (double n = 1000; n < 40000; n += 37)
    least = std::min(least, average_tooth_limit(m, 2000, 1, 2 * pi, n));
  EXPECT_NEAR(least, 0.3090, 0.002);
}

}  // namespace
}  // namespace proveout::cutting
