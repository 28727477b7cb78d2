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

struct Material {
  std::string name;
  double density_g_cm3 = 0;  // g/cm3
  double kc11 = 0;           // N/mm2, specific cutting force at 1 mm chip thickness
  double mc = 0;             // exponent, -
  double kr = 0.3;           // radial over tangential force, -
  double shear_n_mm2 = 0;    // N/mm2, ultimate strength in shear
  std::pair<double, double> cutting_speed{0, 0};         // m/min, carbide: least, greatest
  std::pair<double, double> chip_per_mm_diameter{0, 0};  // mm per mm of diameter: least, greatest
  double depth_per_diameter = 0;  // greatest axial depth over diameter in a full slot; 0: no rule
  double usual_support_mm2 = 0;   // section of one support as usually left, at most; 0: no rule
  std::string source;             // where the figures come from
  bool cuttable = true;           // false: an insert or filling only
  std::string shear_source;       // where the shear strength comes from
};

const std::vector<Material>& built_in_materials();
// The named material with the job's overrides applied; nullopt if neither knows it.
std::optional<Material> find_material(std::string_view name,
                                      const std::map<std::string, job::Material>& overrides);

}  // namespace proveout::cutting
