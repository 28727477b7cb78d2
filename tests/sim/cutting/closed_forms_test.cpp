// Loads of engaged areas given as data, against closed forms of the linear edge law: the volume
// rate is the speed times the area seen along it, the power ktc times that plus kte times the area
// the edges pass, and forces of single edges by hand. Coefficients 500, 11, 150, 8 and a tool of 6
// mm, three teeth, at 18 000 1/min and 0.03 mm a tooth (1620 mm/min) unless a row says otherwise.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "parser/base/geometry.h"
#include "sim/cutting/load.h"
#include "sim/solid/tool_body.h"

namespace proveout::cutting {
namespace {

constexpr double speed = 27;           // mm/s
constexpr double passing = 3 * 300.0;  // teeth a second
constexpr double rpm = 18000;

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
  job::Tool t;
  t.shape = shape;
  t.diameter = 6;
  t.flutes = 3;
  t.flute_length = 20;
  t.stickout = 25;
  return t;
}

CutMotion along(double feed = 1620, double descent = 0) { return {feed, rpm, true, descent}; }

TEST(ClosedForms, Slot) {
  const LoadModel model(six(), law());
  const CutLoad l = model.at(box_area(0, 1.5, -pi / 2, pi / 2, model.profile()), along());
  EXPECT_NEAR(l.removal_mm3_min / 60, 1.5 * 6 * speed, 1e-9);
  const double swept = pi * 3 * 1.5;
  EXPECT_NEAR(l.power_w.likely, 0.5 * 243 + 11e-3 * passing * swept, 1e-9);
  EXPECT_NEAR(l.power_w.low, 0.25 * 243 + 7.5e-3 * passing * swept, 1e-9);
  EXPECT_NEAR(l.power_w.high, 0.7 * 243 + 17e-3 * passing * swept, 1e-9);
  EXPECT_NEAR(l.torque_nm, l.power_w.likely / (2 * pi * 300), 1e-12);
  // Mean forces (Altintas): N a / 4 (krc c) + N a / pi kre against the feed, the same with kt
  // across.
  const double against = 3 * 1.5 / 4 * 150 * 0.03 + 3 * 1.5 / pi * 8;
  const double across = 3 * 1.5 / 4 * 500 * 0.03 + 3 * 1.5 / pi * 11;
  EXPECT_NEAR(against, 16.52, 0.005);
  EXPECT_NEAR(across, 32.63, 0.005);
  EXPECT_NEAR(-l.mean_feed_n, against, 0.02 * against);
  EXPECT_NEAR(std::abs(l.mean_across_n), across, 0.02 * across);
  EXPECT_NEAR(l.force_n.likely, 43.0, 0.6);
  EXPECT_NEAR(l.chip_mm, 0.03, 1e-12);
  EXPECT_NEAR(l.mean_chip_mm, 0.03 * 2 / pi, 1e-12);
}

TEST(ClosedForms, OneStraightToothInASlot) {
  job::Tool t = six();
  t.flutes = 1;
  t.helix_angle = 0;
  const LoadModel model(t, law());
  const CutLoad l = model.at(box_area(0, 1.5, -pi / 2, pi / 2, model.profile()), along(0.03 * rpm));
  // Straight ahead: 1.5 (500 x 0.03 + 11) and 1.5 (150 x 0.03 + 8).
  EXPECT_NEAR(l.force_n.likely, std::hypot(1.5 * 26, 1.5 * 12.5), 1e-6);
}

TEST(ClosedForms, SideCut) {
  const LoadModel model(six(), law());
  const double arc = std::acos(1 - 2 * 1.2 / 6);
  const CutLoad l = model.at(box_area(0, 6, pi / 2 - arc, pi / 2, model.profile()), along());
  EXPECT_NEAR(l.removal_mm3_min / 60, 1.2 * 6 * speed, 1e-9);
  EXPECT_NEAR(l.power_w.likely, 0.5 * 194.4 + 11e-3 * passing * 3 * arc * 6, 1e-9);
  EXPECT_NEAR(l.force_n.likely, 92.9, 4);  // edges stand in cut whole or not at all
}

// A slot with a sliver 0.3 mm wide and 2 mm high above one of its walls: an L, not a slot 3.5 deep.
TEST(ClosedForms, SlotWithASliverAboveIt) {
  const LoadModel model(six(), law());
  EngagedArea area = box_area(0, 1.5, -pi / 2, pi / 2, model.profile());
  const double arc = std::acos(1 - 2 * 0.3 / 6);
  const EngagedArea sliver = box_area(0, 3.5, pi / 2 - arc, pi / 2, model.profile());
  for (std::size_t k = 0; k < 64; ++k) area.high[k] = std::max(area.high[k], sliver.high[k]);
  const CutLoad l = model.at(area, along());
  // The column the sliver begins in is told whole: 5.6 degrees are 0.15 mm of width there.
  EXPECT_NEAR(l.removal_mm3_min / 60, 259.2, 0.15 * 2 * speed);
  EXPECT_NEAR(l.force_n.likely, 52, 6);
  EXPECT_LT(l.force_n.likely, 60);
  const CutLoad box = model.at(box_area(0, 3.5, -pi / 2, pi / 2, model.profile()), along());
  EXPECT_GT(box.force_n.likely, 90);
  EXPECT_NEAR(box.power_w.likely, 610, 2);
}

TEST(ClosedForms, BallOneDeepLevel) {
  job::Tool ball = six(job::ToolShape::ball);
  ball.flutes = 2;
  const LoadModel model(ball, law());
  const CutLoad l = model.at(box_area(0, 1, -pi / 2, pi / 2, model.profile()), along(1080));
  // Seen along the feed: the circle's segment one high, at 18 mm/s.
  const double volume = (9 * std::acos(2.0 / 3) - 2 * std::sqrt(5.0)) * 18;
  EXPECT_NEAR(volume, 55.75, 0.01);
  EXPECT_NEAR(l.removal_mm3_min / 60, volume, 4e-3 * volume);
  // Half of a cap of height 1: pi R h of area.
  EXPECT_NEAR(l.power_w.likely, 0.5 * volume + 11e-3 * 600 * pi * 3, 0.5);
  EXPECT_NEAR(l.force_n.likely, 43.9, 1);
}

TEST(ClosedForms, Vee) {
  job::Tool t = six(job::ToolShape::vee);
  t.tip_angle = 90;
  const LoadModel model(t, law());
  const CutLoad l = model.at(box_area(0, 1, -pi / 2, pi / 2, model.profile()), along());
  EXPECT_NEAR(l.removal_mm3_min / 60, 1 * speed, 1e-9);  // a triangle 2 wide and 1 high
  // Half a cone's mantle of radius 1: pi r s / 2.
  EXPECT_NEAR(l.power_w.likely, 0.5 * 27 + 11e-3 * passing * pi * std::sqrt(2.0) / 2, 1e-6);
  t.helix_angle = 0;
  const LoadModel straight(t, law());
  const CutLoad s = straight.at(box_area(0, 1, -pi / 2, pi / 2, straight.profile()), along());
  // One edge ahead, sqrt 2 long, chip 0.03 / sqrt 2; inward force leans 45 degrees.
  const double h = 0.03 / std::sqrt(2.0), long_edge = std::sqrt(2.0);
  const double one = std::hypot((500 * h + 11) * long_edge, (150 * h + 8) * long_edge / long_edge);
  EXPECT_NEAR(one, 32.5, 0.1);
  EXPECT_GE(s.force_n.likely, one - 1e-9);
}

TEST(ClosedForms, PlungeOfRingsAndSectors) {
  const LoadModel model(six(), law());
  const double feed = 400;
  EngagedArea area = ring_area(1, 3, model.profile());
  const CutMotion down = along(feed, pi / 2);
  const CutLoad ring = model.at(area, down);
  const double whole = pi * 8;
  EXPECT_NEAR(ring.removal_mm3_min / 60, whole * feed / 60, 1e-9);
  EXPECT_NEAR(ring.power_w.likely, 0.5 * whole * feed / 60 + 11e-3 * passing * whole, 1e-9);
  EXPECT_NEAR(ring.force_n.likely, 0, 1e-9);  // three edges a third of a turn apart balance
  // 20 mm2 of it: 286.5 degrees.
  area.from = 0.3;
  area.to = area.from + 20.0 / 4;
  const CutLoad part = model.at(area, down);
  EXPECT_NEAR(part.removal_mm3_min / 60, 20 * feed / 60, 1e-9);
  EXPECT_NEAR(part.power_w.likely, 265, 0.5);
  const double h = feed / (3 * rpm);
  EXPECT_NEAR(part.force_n.likely, 2 * (500 * h + 11), 1e-6);
}

TEST(ClosedForms, RampFiveDegrees) {
  const double d = 5 / deg_per_rad;
  for (const double fade : {0.0, 0.005}) {
    const LoadModel model(six(), law(fade));
    EngagedArea area = ring_area(0, 3, model.profile());
    const EngagedArea side = box_area(0, 1, -pi / 2, pi / 2, model.profile());
    for (std::size_t k = 0; k < 64; ++k) area.high[k] = std::max(area.high[k], side.high[k]);
    const CutLoad l = model.at(area, along(1620, d));
    const double volume = speed * (std::cos(d) * 6 + std::sin(d) * pi * 9);
    EXPECT_NEAR(volume, 227.9, 0.1);
    EXPECT_NEAR(l.removal_mm3_min / 60, volume, 1e-9);
    if (fade == 0)
      EXPECT_NEAR(l.power_w.likely, 0.5 * volume + 11e-3 * passing * (pi * 3 + pi * 9), 1e-6);
    else
      EXPECT_NEAR(l.power_w.likely, 349, 5);
  }
}

// A ball, a vee and a flat given as form tools are the same tools: edge angles come from the
// profile's normals, not from the shape's name.
TEST(ClosedForms, FormToolsAreTheToolsTheyDraw) {
  job::Tool form = six(job::ToolShape::form);
  for (int i = 0; i <= 24; ++i) {
    const double a = pi / 2 * i / 24;
    form.profile.emplace_back(3 * std::sin(a), 3 - 3 * std::cos(a));
  }
  form.profile.emplace_back(3, 20);
  const LoadModel ball(six(job::ToolShape::ball), law()), drawn(form, law());
  const CutLoad a = ball.at(box_area(0, 1, -pi / 2, pi / 2, ball.profile()), along());
  const CutLoad b = drawn.at(box_area(0, 1, -pi / 2, pi / 2, drawn.profile()), along());
  EXPECT_NEAR(b.power_w.likely, a.power_w.likely, 0.005 * a.power_w.likely);
  EXPECT_NEAR(b.force_n.likely, a.force_n.likely, 0.03 * a.force_n.likely);
  EXPECT_NEAR(b.chip_mm, a.chip_mm, 0.03 * a.chip_mm);
  EXPECT_LT(a.chip_mm, 0.026);  // 0.03 times the sine of the lead at 1 mm: sqrt(5) / 3
}

// Going up, the underside does not cut; going down it does at every bearing.
TEST(ClosedForms, UndersideCutsOnlyOnTheWayDown) {
  const LoadModel model(six(), law());
  const EngagedArea face = ring_area(0, 3, model.profile());
  EXPECT_EQ(model.at(face, along(1620, -0.1)).power_w.likely, 0);
  EXPECT_EQ(model.at(face, along(1620, 0)).power_w.likely, 0);
  EXPECT_GT(model.at(face, along(1620, 0.1)).power_w.likely, 0);
}

// A tooth of a tool that turns clockwise passes from straight ahead round to the right of the feed:
// there chips begin thick, which is climb (the trade's definition). Turning the other way swaps
// the two; a slot is both, straight down neither.
TEST(ClosedForms, ClimbAndConventional) {
  const solid::EdgeProfile profile(solid::make_tool_body(six()).flutes);
  const EngagedArea right = box_area(0, 2, -pi / 2, -0.3, profile),
                    left = box_area(0, 2, 0.3, pi / 2, profile),
                    slot = box_area(0, 2, -pi / 2, pi / 2, profile);
  EXPECT_EQ(sense_of(right, true, 0), sense_climb);
  EXPECT_EQ(sense_of(right, false, 0), sense_conventional);
  EXPECT_EQ(sense_of(left, true, 0), sense_conventional);
  EXPECT_EQ(sense_of(left, false, 0), sense_climb);
  EXPECT_EQ(sense_of(slot, true, 0), sense_climb | sense_conventional);
  EXPECT_EQ(sense_of(ring_area(0, 3, profile), true, pi / 2), 0);
}

// P = ktc Q + kte N n A on any area, any law, any tool: the two sums are told, and the power is
// made of nothing else. Against a brute sum over small squares of the tool's face.
TEST(ClosedForms, PowerOfRandomAreasAgainstSmallSquares) {
  std::mt19937 random(26);
  const auto u = [&](double a, double b) {
    return std::uniform_real_distribution<double>(a, b)(random);
  };
  const job::ToolShape shapes[] = {job::ToolShape::flat, job::ToolShape::ball, job::ToolShape::bull,
                                   job::ToolShape::vee};
  for (int i = 0; i < 40; ++i) {
    job::Tool t = six(shapes[i % 4]);
    t.diameter = u(2, 12);
    t.corner_radius = 0.3 * t.diameter;
    t.tip_angle = u(40, 120);
    t.flute_length = 2 * t.diameter;
    t.stickout = 3 * t.diameter;
    const Material m = law(i % 2 == 0 ? 0 : 0.005);
    const LoadModel model(t, m);
    EngagedArea area;
    const double last = model.profile().place_at_height(0.8 * t.diameter);
    for (std::size_t k = 0; k < 64; ++k) {
      if (u(0, 1) < 0.3) continue;
      area.low[k] = u(0, last);
      area.high[k] = area.low[k] + u(0, last - area.low[k]);
    }
    area.from = u(-pi, pi);
    area.to = area.from + u(0.2, 2 * pi);
    const CutMotion motion = along(u(200, 2000), u(-0.5, pi / 2));
    const CutLoad l = model.at(area, motion);
    EXPECT_NEAR(l.power_w.likely, 500 * l.chip_rate + 11 * l.edge_rate, 1e-6 * l.power_w.likely);
    EXPECT_NEAR(l.chip_rate * 1e3 * 60, l.removal_mm3_min, 1e-6 * l.removal_mm3_min);

    const double fz = motion.feed_mm_min / (3 * rpm);
    double volume = 0, edge = 0;
    for (const solid::EdgeSlice& s : model.profile().slices()) {
      constexpr int parts = 60, turns = 64 * 40;
      for (int p = 0; p < parts; ++p) {
        const double share = (p + 0.5) / parts, place = s.from + share * (s.to - s.from);
        const double r = s.lower.radius + share * (s.upper.radius - s.lower.radius);
        for (int b = 0; b < turns; ++b) {
          double bearing = -pi + (b + 0.5) * 2 * pi / turns;
          const auto k = static_cast<std::size_t>(b / 40);
          if (place < area.low[k] || place > area.high[k]) continue;
          const bool inside =
              (bearing >= area.from && bearing <= area.to) || (bearing + 2 * pi <= area.to);
          if (!inside) continue;
          const double h = fz * (std::cos(motion.descent) * s.normal_radius * std::cos(bearing) -
                                 std::sin(motion.descent) * s.normal_height);
          if (!(h > 0)) continue;
          const double d = r * s.length / parts * 2 * pi / turns;
          volume += h * d;
          edge += (m.edge_fade_mm > 0 ? std::min(1.0, h / m.edge_fade_mm) : 1) * d;
        }
      }
    }
    EXPECT_NEAR(l.removal_mm3_min / 60, passing * volume, 0.03 * passing * volume + 0.1)
        << "seed 26, area " << i;
    EXPECT_NEAR(l.edge_rate * 1e3, passing * edge, 0.03 * passing * edge + 3)
        << "seed 26, area " << i;
  }
}

// The machine gives as well as the tool: 43 N on 2 N/um is 0.0215 mm.
TEST(ClosedForms, TheMachineGivesToo) {
  job::Machine machine;
  EXPECT_EQ(machine_give_of(machine), 0);
  machine.stiffness = Vec3(4, 2, 9);
  const double give = machine_give_of(machine);
  EXPECT_DOUBLE_EQ(give, 1 / 2000.0);
  const LoadModel stiff(six(), law()), soft(six(), law(), give);
  const EngagedArea slot = box_area(0, 1.5, -pi / 2, pi / 2, stiff.profile());
  const CutLoad a = stiff.at(slot, along()), b = soft.at(slot, along());
  EXPECT_NEAR(b.bend_mm - a.bend_mm, a.force_n.likely / 2000, 1e-9);
  EXPECT_GT(b.bend_on_wall_mm, a.bend_on_wall_mm);
}

}  // namespace
}  // namespace proveout::cutting
