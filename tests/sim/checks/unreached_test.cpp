// What a run says of surface no setup or tool reaches.
#include <gtest/gtest.h>

#include <cmath>

#include "tests/sim/checks/slotted_plate.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

TEST(Unreached, SpeaksOfASlotTooNarrowAndAnUndersideNobodySees) {
  const run::JobResult r = run_with(6, 20, false, 1.5);
  const Finding* tight = of(r, FindingKind::unreached, "too tight");
  ASSERT_NE(tight, nullptr);
  EXPECT_NEAR(tight->value, 600, 0.15 * 600);
  EXPECT_EQ(tight->level, Severity::warning);
  const Finding* hidden = of(r, FindingKind::unreached, "undercut");
  ASSERT_NE(hidden, nullptr);
  EXPECT_NEAR(hidden->value, 40 * 30, 0.02 * 1200);
}

TEST(Unreached, AFaceThatIsTheBlanksOwnNeedsNoTool) {
  const run::JobResult r = run_with(6, 20, false);
  EXPECT_NE(of(r, FindingKind::unreached, "too tight"), nullptr);
  EXPECT_EQ(of(r, FindingKind::unreached, "undercut"), nullptr);
}

TEST(Unreached, SilentWhereBothSidesAreMilledWithACutterThatFits) {
  const run::JobResult r = run_with(3.5, 14, true);
  EXPECT_EQ(of(r, FindingKind::unreached, "too tight"), nullptr);
  EXPECT_EQ(of(r, FindingKind::unreached, "undercut"), nullptr);
  for (const run::NotChecked& n : r.not_checked) {
    EXPECT_NE(n.what, "unreached");
    EXPECT_NE(n.what, "over-reach");
  }
}

// A plate 30 x 30 x 10 with one round hole through it, of 64 chords, as text STL.
std::string holed_plate(double x, double y, double diameter) {
  constexpr int n = 64;
  std::string out = "solid plate\n";
  const auto triangle = [&](const Vec3& a, const Vec3& b, const Vec3& c) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const Vec3& v : {a, b, c})
      out += fmt::format("vertex {:.9g} {:.9g} {:.9g}\n", v.x(), v.y(), v.z());
    out += "endloop\nendfacet\n";
  };
  const auto quad = [&](const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
    triangle(a, b, c);
    triangle(a, c, d);
  };
  // Every eighth of a turn the rim is a corner or the middle of a side.
  const auto hole = [&](int k, double z) {
    const double angle = 2 * pi * k / n;
    return Vec3(x + diameter / 2 * std::cos(angle), y + diameter / 2 * std::sin(angle), z);
  };
  const auto rim = [&](int k, double z) {
    const double angle = 2 * pi * k / n, c = std::cos(angle), s = std::sin(angle);
    const double out_to = 15 / std::max(std::abs(c), std::abs(s));
    return Vec3(15 + out_to * c, 15 + out_to * s, z);
  };
  for (int k = 0; k < n; ++k) {
    quad(hole(k, 10), rim(k, 10), rim(k + 1, 10), hole(k + 1, 10));
    quad(hole(k + 1, 0), rim(k + 1, 0), rim(k, 0), hole(k, 0));
    quad(rim(k, 0), rim(k + 1, 0), rim(k + 1, 10), rim(k, 10));
    quad(hole(k, 10), hole(k + 1, 10), hole(k + 1, 0), hole(k, 0));
  }
  return out + "endsolid plate\n";
}

run::JobResult drilled(double x, double y, double hole, double drill, bool cut) {
  const pipeline::WorkFolder work;
  work.file("part.stl", holed_plate(x, y, hole));
  std::string nc = "G21 G90\nT2 M6\nS5000 M3\nG0 X-10 Y-10 Z5\n";
  if (cut) nc += fmt::format("G0 X{:.3f} Y{:.3f}\nG1 Z-14 F120\nG0 Z5\n", x, y);
  work.file("a.nc", nc + "M30\n");
  return work.run(fmt::format(
      "[simulation]\nvoxel = 0.3\n[stock]\nsize = [30, 30, 10]\n[part]\nmesh = \"part.stl\"\n"
      "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 15\nstickout = 30\n"
      "[[tools]]\nnumber = 2\nshape = \"drill\"\ndiameter = {}\nflute_length = 40\nstickout = 50\n"
      "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = {{ x = \"min\", y = \"min\", z = "
      "\"top\" }}\n",
      drill));
}

// Wherever the hole lies on the map's grid: a drill fits the hole it made.
TEST(Unreached, ADrillReachesTheHoleItMade) {
  for (const double diameter : {2.5, 5.0, 8.0}) {
    for (const double off : {0.0, 0.13, 0.25, 0.37}) {
      const run::JobResult r = drilled(12.1 + off, 16.4 - 0.7 * off, diameter, diameter, true);
      const Finding* tight = of(r, FindingKind::unreached, "too tight");
      EXPECT_EQ(tight, nullptr) << diameter << " mm hole, " << off << ": " << tight->text;
      EXPECT_EQ(of(r, FindingKind::unreached, "undercut"), nullptr);
    }
  }
}

TEST(Unreached, SpeaksOfAHoleThatNoToolFits) {
  // 3 mm wide: the cutter is 6 mm, the drill 5; left alone, and with the drill run through it,
  // which cuts it too wide.
  for (const bool cut : {false, true}) {
    const run::JobResult r = drilled(12.3, 16.2, 3, 5, cut);
    const Finding* tight = of(r, FindingKind::unreached, "too tight");
    ASSERT_NE(tight, nullptr) << cut;
    EXPECT_NEAR(tight->value, pi * 3 * 10, 0.15 * pi * 30);
  }
}

}  // namespace
}  // namespace proveout::checks
