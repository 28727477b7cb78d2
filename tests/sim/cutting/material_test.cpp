// The built-in materials against figures anyone can look up: densities at room temperature as
// handbooks list them (values from memory; 6061 and 7075 by the Aluminum Association's data, brass
// C360, mild steel, acetal copolymer, tungsten). A mass told wrong by a tenth would be noticed on
// any kitchen scale.
#include "sim/cutting/material.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>

namespace proveout::cutting {
namespace {

TEST(Materials, DensitiesOfHandbooks) {
  const std::map<std::string, std::pair<double, double>> listed = {
      {"6061-T6", {2.70, 2.71}},
      {"7075-T6", {2.80, 2.82}},
      {"brass", {8.4, 8.6}},
      {"mild steel", {7.8, 7.9}},
      {"mdf", {0.6, 0.85}},
      {"plywood", {0.5, 0.75}},
      {"printed plastic",
       {1.2, 1.28}},  // polylactide, solid: 1.24 on its makers' sheets, from memory
      {"hardwood", {0.55, 0.85}},
      {"acetal", {1.39, 1.43}},
      {"tungsten", {19.2, 19.35}},
      {"epoxy", {1.1, 1.3}},
      {"filled epoxy", {6.5, 6.7}}};  // by the rule of mixtures, no handbook
  for (const Material& m : built_in_materials()) {
    const auto range = listed.find(m.name);
    ASSERT_NE(range, listed.end()) << m.name << " has no row here";
    EXPECT_GE(m.density_g_cm3, range->second.first) << m.name;
    EXPECT_LE(m.density_g_cm3, range->second.second) << m.name;
  }
}

// Whatever the table says, what can be cut has a force, and ranges are the right way round.
TEST(Materials, RangesAreRanges) {
  for (const Material& m : built_in_materials()) {
    if (!m.cuttable) continue;
    EXPECT_EQ(m.kc11, 0) << m.name;  // the edge law is the table's, a power law the user's own
    for (const Band& b : {m.ktc, m.kte, m.krc, m.kre}) {
      EXPECT_GT(b.low, 0) << m.name;
      EXPECT_LT(b.low, b.likely) << m.name;
      EXPECT_LT(b.likely, b.high) << m.name;
    }
    EXPECT_GT(m.plunge_share, 0) << m.name;
    EXPECT_FALSE(m.force_source.empty()) << m.name;
    EXPECT_LT(m.cutting_speed.first, m.cutting_speed.second) << m.name;
    EXPECT_LT(m.chip_per_mm_diameter.first, m.chip_per_mm_diameter.second) << m.name;
    EXPECT_GT(m.depth_per_diameter, 0) << m.name;
  }
}

// Energy per volume of the design's table, J/mm3, at chips of 0.005 to 0.2 mm: ktc + kte / h of the
// published rows' bands (Chinese J. Mech. Eng. 2022, table 5), at and above the fade.
TEST(Materials, EnergyByThickness) {
  const auto energy = [](const char* name, double h) {
    const Material m = *find_material(name, {});
    const double edge = std::min(1.0, h / m.edge_fade_mm);
    const auto of = [&](double c, double e) { return (c + edge * e / h) / 1000; };
    return Band{of(m.ktc.low, m.kte.low), of(m.ktc.likely, m.kte.likely),
                of(m.ktc.high, m.kte.high)};
  };
  struct Row {
    double h, low, likely, high, likely_7075;
  };
  for (const Row& r : {Row{0.005, 1.75, 2.70, 4.10, 4.35}, Row{0.01, 1.00, 1.60, 2.40, 2.55},
                       Row{0.016, 0.72, 1.19, 1.76, 1.88}, Row{0.03, 0.50, 0.87, 1.27, 1.35},
                       Row{0.05, 0.40, 0.72, 1.04, 1.11}, Row{0.1, 0.33, 0.61, 0.87, 0.93},
                       Row{0.2, 0.29, 0.56, 0.79, 0.84}}) {
    const Band e = energy("6061-T6", r.h);
    EXPECT_NEAR(e.low, r.low, 0.0051) << r.h;
    EXPECT_NEAR(e.likely, r.likely, 0.0051) << r.h;
    EXPECT_NEAR(e.high, r.high, 0.0051) << r.h;
    EXPECT_NEAR(energy("7075-T6", r.h).likely, r.likely_7075, 0.0051) << r.h;
  }
  // Text-book table, sharp tools, h = 0.25 mm (Groover): light alloys 0.7 to 0.8 J/mm3. The band
  // reaches it.
  EXPECT_GT(energy("6061-T6", 0.25).high, 0.7);
}

// Thin chips press the edge in: at 0.016 mm the sources' radial force is about 0.55 of the
// tangential one (6xxx, docs/loads.md), not the 0.3 of thick chips.
TEST(Materials, RadialShareGrowsAsChipsThin) {
  const Material m = *find_material("6061-T6", {});
  const auto share = [&](double h) {
    return (m.krc.likely * h + m.kre.likely) / (m.ktc.likely * h + m.kte.likely);
  };
  EXPECT_NEAR(share(0.016), 0.55, 0.01);
  EXPECT_NEAR(share(0.2), 0.34, 0.01);
}

// A job's own figures replace the table's one by one, and a new name starts from the first row.
TEST(Materials, OfTheJobFile) {
  std::map<std::string, job::Material> own;
  own["brass"].kc11 = 800;
  own["bone"].density_g_cm3 = 1.9;
  const auto brass = find_material("brass", own), bone = find_material("bone", own);
  ASSERT_TRUE(brass && bone);
  EXPECT_EQ(brass->kc11, 800);
  EXPECT_EQ(brass->density_g_cm3, find_material("brass", {})->density_g_cm3);
  EXPECT_EQ(bone->name, "bone");
  EXPECT_EQ(bone->density_g_cm3, 1.9);
  EXPECT_EQ(bone->kc11, built_in_materials().front().kc11);
  // Whose figures it goes by is told: they may be far off.
  EXPECT_EQ(bone->source,
            "the job file; not given there and taken from 6061-T6, which may be far off: cutting "
            "forces, edge forces, cutting speed, chip, depth rule (" +
                built_in_materials().front().source + ")");
  EXPECT_EQ(bone->force_source, "taken from 6061-T6");
  EXPECT_EQ(brass->source.find("cutting forces"), std::string::npos) << brass->source;
  EXPECT_NE(brass->source.find("taken from brass: density"), std::string::npos) << brass->source;
  // Coefficients one by one: radial ones follow the tangential, unless they are given too.
  own["horn"].ktc = job::Band{40, 60, 90};
  own["horn"].kte = job::Band{1, 1, 1};
  own["horn"].kre = job::Band{0.2, 0.2, 0.2};
  const auto horn = find_material("horn", own);
  EXPECT_EQ(horn->ktc.high, 90);
  EXPECT_DOUBLE_EQ(horn->krc.likely, 18);
  EXPECT_EQ(horn->kte.low, 1);
  EXPECT_EQ(horn->kre.likely, 0.2);
  EXPECT_EQ(horn->kc11, 0);
  EXPECT_EQ(horn->force_source, "the job file");
  EXPECT_EQ(horn->source.find("forces"), std::string::npos) << horn->source;
  own["horn"].density_g_cm3 = 1.3;
  own["horn"].cutting_speed = {100, 200};
  own["horn"].chip_per_mm_diameter = {0.01, 0.02};
  own["horn"].depth_per_diameter = 1;
  EXPECT_EQ(find_material("horn", own)->source, "the job file");
  EXPECT_FALSE(find_material("cheese", own));
}

}  // namespace
}  // namespace proveout::cutting
