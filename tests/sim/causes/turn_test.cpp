// When a cut that would fit the work turned over another way is a wrong turn, and when a zero that
// lies off: on results put together by hand.
#include <gtest/gtest.h>

#include "sim/causes/causes.h"

namespace proveout::causes {
namespace {

// Side B, turned about x as declared, lies nearer to the part turned about y; so far off it, mm.
// Another zero fits too, from which it takes so much more waste than from the declared one.
struct SideB {
  double turned_off_mm = 0, more_waste = 1, voxel = 0.5;

  std::vector<run::Cause> causes() const {
    run::JobResult r;
    auto inputs = std::make_shared<run::Inputs>();
    inputs->blank = Box3(Vec3::Zero(), Vec3(80, 60, 15));
    inputs->setups.resize(2);
    r.inputs = inputs;
    r.voxel = voxel;
    r.job.setups.resize(2);
    for (const char* name : {"A", "B"}) {
      run::SetupResult s;
      s.name = name;
      s.source = std::make_shared<nc::Program>();
      r.setups.push_back(std::move(s));
    }
    flip::Flip flip;
    flip.earlier = "A";
    flip.later = "B";
    flip.decision = flip::Decision::other;
    flip.best_other = 1;
    flip.placements.resize(2);
    flip.placements[0].name = "turned about x";
    flip.placements[0].from_part = 0.93;
    flip.placements[1].name = "turned about y";
    flip.placements[1].from_part = turned_off_mm;
    r.flips = {flip};
    run::ZeroSearch search;
    search.setup = "B";
    search.voxel = 0.8;
    search.declared.useful_mm3 = 4000;
    search.declared.gouged_mm3 = 1700;
    run::ZeroTrial fits;
    fits.words = "x = \"min\"";
    fits.useful_mm3 = 4000 * more_waste;
    fits.stock_from_setup.translation() = Vec3(-38, 0, 0);
    search.fits = {fits};
    r.zero_search = {search};
    for (const FindingKind kind : {FindingKind::flip_mismatch, FindingKind::gouge}) {
      Finding f;
      f.kind = kind;
      f.level = Severity::error;
      f.setup = "B";
      r.findings.push_back(f);
    }
    return find_causes(r, {});
  }
  std::string first() const {
    const std::vector<run::Cause> all = causes();
    return all.empty() ? "none" : std::string(run::name(all.front().kind));
  }
};

TEST(Turn, AFitByChanceFromAZeroThatCutsAirIsNone) {
  for (const double voxel : {0.2, 0.5, 1.0}) {
    const double near = 0.2 * voxel, by_chance = 0.6 * voxel;
    EXPECT_EQ((SideB{by_chance, 2.2, voxel}.first()), "zero") << voxel;
    EXPECT_EQ((SideB{near, 2.2, voxel}.first()), "turn") << voxel;
    // The other zero takes no more than the declared one: the turn is as good a guess as before.
    EXPECT_EQ((SideB{by_chance, 1.1, voxel}.first()), "turn") << voxel;
    EXPECT_EQ((SideB{1.5 * voxel, 1.1, voxel}.first()), "zero") << voxel;
  }
}

}  // namespace
}  // namespace proveout::causes
