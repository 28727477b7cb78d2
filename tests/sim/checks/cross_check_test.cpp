// The comparison held against itself: a planted disagreement of each of its three kinds speaks,
// what agrees to the bounds does not. Sound runs that must be silent: part_lost_test.cpp.
#include "sim/checks/cross_check.h"

#include <gtest/gtest.h>

namespace proveout::checks {
namespace {

struct Figures {
  run::JobResult result;
  run::PartResult part;
  measure::TwoWay found;
  measure::MissingPart lattice;
  Figures() {
    result.voxel = 0.25;
    part.mesh_volume_mm3 = 10000;
    part.volume_mm3 = 10000 + 30 - 12;
    found.excess_mm3 = 30;
    found.gouge_mm3 = 12;
    found.surface_mm2 = 1000;
    lattice.spacing = 0.5;
    lattice.deep = 100;
    lattice.volume_mm3 = 12;
  }
  std::vector<Finding> said() const {
    FindingCollector findings;
    cross_check(result, part, found, lattice, findings);
    return findings.take();
  }
};

TEST(CrossCheck, SilentWhereAllAgree) { EXPECT_TRUE(Figures().said().empty()); }

TEST(CrossCheck, SpeaksOfVolumesThatDoNotAddUp) {
  Figures f;
  const double bound = measure::cross_check_bound(f.found, f.result.voxel);
  f.part.volume_mm3 += 0.9 * bound;
  EXPECT_TRUE(f.said().empty());
  f.part.volume_mm3 += 0.2 * bound;
  const auto said = f.said();
  ASSERT_EQ(said.size(), 1u);
  EXPECT_EQ(said[0].kind, FindingKind::cross_check);
  EXPECT_EQ(said[0].level, Severity::error);
  EXPECT_NEAR(said[0].value, 1.1 * bound, 1e-9);
  EXPECT_NEAR(said[0].limit, bound, 1e-9);
}

TEST(CrossCheck, SpeaksWhereMotionsAndGridTellDifferentSides) {
  Figures f;
  f.found.contradicted_mm3 = measure::cross_check_bound(f.found, f.result.voxel);
  EXPECT_EQ(f.said().size(), 1u);
}

TEST(CrossCheck, SpeaksWhereTheInsideLiesInAirAndNobodySaidSo) {
  Figures f;
  f.lattice.volume_mm3 = 100;
  EXPECT_EQ(f.said().size(), 1u);
  f.lattice.deep = 2;  // a point or two beside a face
  EXPECT_TRUE(f.said().empty());
}

}  // namespace
}  // namespace proveout::checks
