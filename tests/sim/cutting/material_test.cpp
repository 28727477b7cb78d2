// The built-in materials against figures anyone can look up: densities at room temperature as
// handbooks list them (values from memory; 6061 and 7075 by the Aluminum Association's data, brass
// C360, mild steel, acetal copolymer, tungsten). A mass told wrong by a tenth would be noticed on
// any kitchen scale.
#include "sim/cutting/material.h"

#include <gtest/gtest.h>

#include <map>

namespace proveout::cutting {
namespace {

TEST(Materials, DensitiesOfHandbooks) {
  const std::map<std::string, std::pair<double, double>> listed = {
      {"6061-T6", {2.70, 2.71}},   {"7075-T6", {2.80, 2.82}},   {"brass", {8.4, 8.6}},
      {"mild steel", {7.8, 7.9}},  {"mdf", {0.6, 0.85}},        {"hardwood", {0.55, 0.85}},
      {"acetal", {1.39, 1.43}},    {"tungsten", {19.2, 19.35}}, {"epoxy", {1.1, 1.3}},
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
    EXPECT_GT(m.kc11, 0) << m.name;
    EXPECT_GT(m.mc, 0) << m.name;
    EXPECT_LT(m.mc, 1) << m.name;
    EXPECT_LT(m.cutting_speed.first, m.cutting_speed.second) << m.name;
    EXPECT_LT(m.chip_per_mm_diameter.first, m.chip_per_mm_diameter.second) << m.name;
    EXPECT_GT(m.depth_per_diameter, 0) << m.name;
  }
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
  EXPECT_EQ(bone->source, "the job file");
  EXPECT_FALSE(find_material("cheese", own));
}

}  // namespace
}  // namespace proveout::cutting
