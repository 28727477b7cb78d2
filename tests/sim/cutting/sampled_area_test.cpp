// The engaged area as the stock's grid tells it, against closed forms: slots, side cuts, balls on
// floors and slopes, vees, ramps, crescents left beside a slot, an L. Coefficients 500, 11, 150, 8;
// 6 mm, three teeth, 18 000 1/min, 1620 mm/min unless said otherwise.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "sim/cutting/load.h"
#include "sim/cutting/volume_runs.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::cutting {
namespace {

using stock::line;

const Vec3 block(60, 40, 14);
constexpr double top = 14, speed = 27, passing = 900;

Material law(double fade = 0) {
  Material m = *find_material("6061-T6", {});
  m.ktc = {250, 500, 700};
  m.kte = {7.5, 11, 17};
  m.krc = {75, 150, 210};
  m.kre = {5, 8, 12};
  m.edge_fade_mm = fade;
  return m;
}

job::Tool six(job::ToolShape shape = job::ToolShape::flat) {
  job::Tool t = stock::tool_of(shape, 6);
  t.flutes = 3;
  t.flute_length = 20;
  t.stickout = 25;
  return t;
}

struct Told {
  double rate = 0, power = 0, force = 0, area_power = 0;  // means over the middle; force: largest
  double scale = 0, bare_rate = 0;
  double energy_volume = 0;  // mm3, of the areas over the whole motion, scaled by runs
  double removed = 0;        // mm3
  int seen = 0;
};

// Loads over the middle of the last motion.
Told told(const job::Tool& tool, const std::vector<nc::Motion>& motions, double voxel,
          double feed = 1620, double from = 0.35, double to = 0.65, double fade = 0,
          int threads = 2) {
  const stock::Cutting c =
      stock::cut_box(block, voxel, tool, motions, RigidMotion::Identity(), threads);
  const stock::MotionOutcome& last = c.cut.motions.back();
  const nc::Motion& m = motions.back();
  const double length = nc::length(m);
  const double descent = std::asin(std::clamp((m.start.z() - m.end.z()) / length, -1.0, 1.0));
  const LoadModel model(tool, law(fade));
  std::vector<float> scales;
  VolumeRuns runs(tool.diameter / 2);
  for (std::uint32_t i = 0; i < last.sample_count; ++i) {
    const stock::EngagementSample& s = c.cut.samples[last.first_sample + i];
    const EngagedArea area = area_of(s, c.cut.extents, model.profile());
    runs.add(i, s.length, model.volume_per_mm(area, descent) * s.length, s.removed_mm3, scales);
  }
  runs.end(scales);
  Told out;
  out.removed = last.removed_mm3;
  for (std::uint32_t i = 0; i < last.sample_count; ++i) {
    const stock::EngagementSample& s = c.cut.samples[last.first_sample + i];
    const EngagedArea area = area_of(s, c.cut.extents, model.profile());
    const CutMotion motion{feed, 18000, true, descent};
    const CutLoad l = model.at(area, motion, scales[i]);
    out.energy_volume += l.removal_mm3_min / feed * s.length;
    if (s.along < from * length || s.along > to * length) continue;
    ++out.seen;
    out.rate += l.removal_mm3_min / 60;
    out.power += l.power_w.likely;
    out.force = std::max(out.force, l.force_n.likely);
    out.scale += scales[i];
    const CutLoad bare = model.at(area, motion);
    out.bare_rate += bare.removal_mm3_min / 60;
    out.area_power += bare.power_w.likely;
  }
  for (double* v : {&out.rate, &out.power, &out.scale, &out.bare_rate, &out.area_power})
    *v /= std::max(1, out.seen);
  return out;
}

class AtVoxels : public testing::TestWithParam<double> {
 protected:
  void expect(const Told& t, double rate, double power, double force, const char* what,
              double rate_slack = 0.04, double power_slack = 0.06) {
    EXPECT_GT(t.seen, 1) << what;
    EXPECT_NEAR(t.rate, rate, rate_slack * rate) << what << ", bare " << t.bare_rate;
    EXPECT_NEAR(t.power, power, power_slack * power)
        << what << ", by the area alone " << t.area_power << ", scale " << t.scale;
    if (force > 0) {
      EXPECT_NEAR(t.force, force, 0.15 * force) << what;
    }
  }
};

TEST_P(AtVoxels, SlotsAndSides) {
  expect(told(six(), {line({-4, 20, top - 1.5}, {50, 20, top - 1.5})}, GetParam()), 243, 261.5, 43,
         "slot 1.5");
  const double arc = std::acos(1 - 2 * 1.2 / 6);
  expect(told(six(), {line({-4, -1.8, top - 6}, {50, -1.8, top - 6})}, GetParam()), 194.4,
         97.2 + 11e-3 * passing * 3 * arc * 6, 92.9, "side 1.2 x 6");
}

TEST_P(AtVoxels, SliverAboveASlot) {
  // The slot 1.5 deep under a shelf that leaves a sliver 0.3 wide and 2 high on one side.
  const Told t = told(six(),
                      {line({-4, 20.3, top - 2}, {60, 20.3, top - 2}),
                       line({-4, 20, top - 3.5}, {50, 20, top - 3.5})},
                      GetParam());
  expect(t, 259.2, 296, 0, "sliver", 0.04, 0.08);
  EXPECT_LT(t.force, 70);
  EXPECT_GT(t.force, 43);
}

TEST_P(AtVoxels, BallsAndVees) {
  job::Tool ball = six(job::ToolShape::ball);
  ball.flutes = 2;
  expect(told(ball, {line({-4, 20, top - 1}, {50, 20, top - 1})}, GetParam(), 1080), 55.75, 90.2,
         43.9, "ball 1 deep", 0.05, 0.08);
  job::Tool vee = six(job::ToolShape::vee);
  vee.flutes = 2;
  vee.tip_angle = 90;
  expect(told(vee, {line({-4, 20, top - 1}, {50, 20, top - 1})}, GetParam(), 1080), 18, 23.7, 32.5,
         "vee 1 deep", 0.06, 0.10);
}

TEST_P(AtVoxels, RampDownFiveDegrees) {
  const double d = 5 / deg_per_rad;
  // Steady from where the face is all in material: the side as deep as the ramp has gone.
  const double length = 30, drop = length * std::tan(d);
  const Told t = told(six(), {line({15, 20, top}, {15 + length, 20, top - drop})}, GetParam(), 1620,
                      0.45, 0.55);
  const double deep = 0.5 * drop + 3 * std::tan(d);  // ahead, under the floor it leaves behind
  EXPECT_GT(t.seen, 1);
  const double rate = speed * std::cos(d) * (6 * 0.5 * drop + pi * 9 * std::tan(d));
  EXPECT_NEAR(t.rate, rate, 0.12 * rate) << t.bare_rate << " " << deep;
}

// What a plunge may take of a crescent: its area times the speed down. The crescent lies between
// the tool's rim and a slot beside it.
TEST_P(AtVoxels, PlungeBesideASlotTakesNoMoreThanItsCrescent) {
  for (const double step : {0.5, 1.6, 3.0}) {
    const Told t = told(six(),
                        {line({-4, 20, top - 5}, {64, 20, top - 5}),
                         line({30, 20 + step, top}, {30, 20 + step, top - 1.6})},
                        GetParam(), 300, 0.2, 0.95);
    // Half the disc beyond the slot's edge, which lies 3 - step off the tool's axis.
    const double a = 3 - step, crescent = 9 * std::acos(a / 3) - a * std::sqrt(9 - a * a);
    const double bound = crescent * 300 / 60;
    EXPECT_GT(t.seen, 0);
    // Half a millimetre is a crescent two voxels wide on the coarser grids.
    EXPECT_NEAR(t.rate, bound, 0.07 * bound) << "step " << step << ", bare " << t.bare_rate;
    const double power = 0.5 * bound + 11e-3 * passing * crescent;
    EXPECT_NEAR(t.power, power, 0.07 * power) << "step " << step;
  }
}

// Volume of the areas over whole motions, entry and exit and all.
TEST_P(AtVoxels, VolumeOfARun) {
  for (const double depth : {0.5, 1.5, 4.0}) {
    const Told t = told(six(), {line({-4, 20, top - depth}, {64, 20, top - depth})}, GetParam());
    EXPECT_NEAR(t.energy_volume, t.removed, 0.03 * t.removed) << depth;
  }
}

INSTANTIATE_TEST_SUITE_P(Engaged, AtVoxels, testing::Values(0.1, 0.13, 0.18, 0.25, 0.4));

// A run as long as asked says what was taken of what the area would take; one of a third of that
// says a third of the difference; a stretch that takes otherwise is a run of its own.
TEST(VolumeRun, IsBelievedInProportionToItsLength) {
  std::vector<float> scales;
  VolumeRuns runs(3);
  for (std::size_t i = 0; i < 4; ++i) runs.add(i, 0.75, 7.5, 6.75, scales);
  runs.add(4, 1, 20, 18, scales);  // twice as much a mm
  runs.end(scales);
  runs.add(5, 4, 40, 80, scales);
  runs.end(scales);
  ASSERT_EQ(scales.size(), 6u);
  for (std::size_t i = 0; i < 4; ++i) EXPECT_NEAR(scales[i], 0.9, 1e-6);
  EXPECT_NEAR(scales[4], 1 - 0.1 / 3, 1e-6);
  EXPECT_NEAR(scales[5], VolumeRuns::most, 1e-6);
}

// The same columns for any number of threads: least and greatest do not care for order.
TEST(EngagedColumns, SameForAnyThreads) {
  std::vector<nc::Motion> motions;
  for (int i = 0; i < 12; ++i) {
    const double y = 4 + 2.7 * i, z = top - 0.3 * i;
    motions.push_back(i % 3 == 0 ? stock::arc({10, y, z}, {20, y, z}, i % 2 == 0 ? 3 : -4, -0.4)
                                 : line({5, y, z}, {50, y + 1, z - (i % 2)}));
    motions.push_back(line({25, y, z + 2}, {25, y, z - 1}));
  }
  const job::Tool tool = six(job::ToolShape::bull);
  const stock::Cut one = stock::cut_box(block, 0.3, tool, motions, RigidMotion::Identity(), 1).cut;
  const stock::Cut four = stock::cut_box(block, 0.3, tool, motions, RigidMotion::Identity(), 4).cut;
  ASSERT_EQ(one.samples.size(), four.samples.size());
  ASSERT_EQ(one.extents.size(), four.extents.size());
  ASSERT_GT(one.extents.size(), 100u);
  for (std::size_t i = 0; i < one.extents.size(); ++i) {
    EXPECT_EQ(one.extents[i].low, four.extents[i].low);
    EXPECT_EQ(one.extents[i].high, four.extents[i].high);
  }
  for (std::size_t i = 0; i < one.samples.size(); ++i) {
    EXPECT_EQ(one.samples[i].columns, four.samples[i].columns);
    EXPECT_EQ(one.samples[i].area_from, four.samples[i].area_from);
    EXPECT_EQ(one.samples[i].area_to, four.samples[i].area_to);
  }
}

}  // namespace
}  // namespace proveout::cutting
