// What is cut: the built-in material table and a job's changes to it.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "parser/job/job.h"

namespace proveout::cutting {

// A figure that sources do not agree on: the least and the greatest that can be defended, and the
// one taken.
struct Band {
  double low = 0, likely = 0, high = 0;
};

struct Material {
  std::string name;
  double density_g_cm3 = 0;  // g/cm3
  // Force on a mm of edge at a chip h mm thick: along its motion ktc h + kte, towards the axis krc
  // h
  // + kre (the linear edge law; docs/loads.md names the source of each row). ktc, krc: N/mm2; kte,
  // kre: N/mm, fading below edge_fade_mm.
  Band ktc, kte, krc, kre;
  // A law of the user's own instead, where kc11 is above 0: kc11 h^(1 - mc) along, kr of it towards
  // the axis, no band (Kienzle 1952).
  double kc11 = 0;         // N/mm2, specific cutting force at 1 mm chip thickness
  double mc = 0.25;        // exponent, -
  double kr = 0.3;         // radial over tangential force, -
  double shear_n_mm2 = 0;  // N/mm2, ultimate strength in shear
  std::pair<double, double> cutting_speed{0, 0};         // m/min, carbide: least, greatest
  std::pair<double, double> chip_per_mm_diameter{0, 0};  // mm per mm of diameter: least, greatest
  double depth_per_diameter = 0;  // greatest axial depth over diameter in a full slot; 0: no rule
  double usual_support_mm2 = 0;   // section of one support as usually left, at most; 0: no rule
  double plunge_share = 0;   // of the greatest chip, that a tool may take straight down; 0: no rule
  std::string source;        // where the figures come from
  bool cuttable = true;      // false: an insert or filling only
  std::string shear_source;  // where the shear strength comes from
  std::string force_source;  // where the force law comes from
  double edge_fade_mm = 0.005;  // chips thinner than this feel the edge in proportion; 0: all of it
};

const std::vector<Material>& built_in_materials();
// The named material with the job's overrides applied; nullopt if neither knows it.
std::optional<Material> find_material(std::string_view name,
                                      const std::map<std::string, job::Material>& overrides);

}  // namespace proveout::cutting
