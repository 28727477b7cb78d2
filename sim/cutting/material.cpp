#include "sim/cutting/material.h"

namespace proveout::cutting {

// Text-book level figures. Every row is an assumption about the stock on the table: reports say so.
const std::vector<Material>& built_in_materials() {
  static const std::string memory = "value from memory, common practice";
  static const std::string unconfirmed = "common practice, unconfirmed";
  static const std::string mixture =
      "rule of mixtures: 30 % by volume of tungsten powder (19.25 g/cm3) in epoxy (1.15 g/cm3)";
  // Ultimate strengths in shear. No handbook was at hand: each is from memory, of the place named.
  static const std::string aluminium =
      "ultimate shear strength, typical, of the Aluminum Association's Aluminum Standards and Data "
      "(207 for 6061-T6, 331 for 7075-T6, rounded), from memory";
  static const std::string brass =
      "shear strength of half-hard free-cutting brass, copper trade data sheets, from memory";
  static const std::string steel =
      "0.8 of an ultimate tensile strength of 440 N/mm2, a shop rule, from memory";
  static const std::string board = "in the plane of the board, common practice, unconfirmed";
  static const std::string wood =
      "along the grain; 8 to 16 at 12 % moisture in the Wood Handbook (USDA), from memory";
  static const std::string acetal = "shear strength, makers' data sheets, from memory";
  static const std::vector<Material> table = {
      {"6061-T6",
       2.70,
       700,
       0.25,
       0.3,
       200,
       {150, 400},
       {0.005, 0.015},
       0.5,
       7.5,
       memory,
       true,
       aluminium},
      {"7075-T6",
       2.81,
       850,
       0.25,
       0.3,
       330,
       {150, 400},
       {0.005, 0.015},
       0.5,
       7.5,
       memory,
       true,
       aluminium},
      {"brass",
       8.49,
       750,
       0.20,
       0.3,
       230,
       {100, 250},
       {0.005, 0.012},
       0.4,
       7.5,
       memory,
       true,
       brass},
      {"mild steel",
       7.85,
       1800,
       0.22,
       0.3,
       350,
       {80, 150},
       {0.004, 0.010},
       0.25,
       7.5,
       memory,
       true,
       steel},
      {"mdf",
       0.75,
       25,
       0.50,
       0.3,
       2,
       {300, 900},
       {0.015, 0.040},
       1.5,
       40,
       unconfirmed,
       true,
       board},
      {"hardwood",
       0.70,
       30,
       0.50,
       0.3,
       8,
       {300, 900},
       {0.010, 0.030},
       1.0,
       30,
       unconfirmed,
       true,
       wood},
      {"acetal",
       1.41,
       80,
       0.30,
       0.3,
       55,
       {150, 500},
       {0.010, 0.030},
       1.0,
       20,
       memory,
       true,
       acetal},
      {"tungsten", 19.25, 0, 0, 0, 0, {0, 0}, {0, 0}, 0, 0, memory, false, ""},
      {"epoxy", 1.15, 0, 0, 0, 0, {0, 0}, {0, 0}, 0, 0, memory, false, ""},
      {"filled epoxy", 6.58, 0, 0, 0, 0, {0, 0}, {0, 0}, 0, 0, mixture, false, ""},
  };
  return table;
}

std::optional<Material> find_material(std::string_view name,
                                      const std::map<std::string, job::Material>& overrides) {
  std::optional<Material> found;
  for (const Material& m : built_in_materials()) {
    if (m.name == name) found = m;
  }
  const auto own = overrides.find(std::string(name));
  if (own == overrides.end()) return found;
  if (!found) {
    // A material of the job's own starts from the light alloys' figures where it leaves some out.
    found = built_in_materials().front();
    found->name = std::string(name);
    found->shear_source = "taken from " + built_in_materials().front().name;
  }
  const job::Material& m = own->second;
  if (m.density_g_cm3) found->density_g_cm3 = *m.density_g_cm3;
  if (m.kc11) found->kc11 = *m.kc11;
  if (m.mc) found->mc = *m.mc;
  if (m.kr) found->kr = *m.kr;
  if (m.shear_n_mm2) {
    found->shear_n_mm2 = *m.shear_n_mm2;
    found->shear_source = "the job file";
  }
  if (m.cutting_speed) found->cutting_speed = *m.cutting_speed;
  if (m.chip_per_mm_diameter) found->chip_per_mm_diameter = *m.chip_per_mm_diameter;
  if (m.depth_per_diameter) found->depth_per_diameter = *m.depth_per_diameter;
  found->source = "the job file";
  return found;
}

}  // namespace proveout::cutting
