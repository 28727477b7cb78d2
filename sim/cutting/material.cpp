#include "sim/cutting/material.h"

#include <array>

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
  static const std::string plies =
      "across the plies, in the plane of the sheet (rolling shear) about "
      "1 to 2, common practice, unconfirmed";
  static const std::string printed =
      "between layers of a part printed solid; a print with hollows bears less, from memory";
  static const std::string acetal = "shear strength, makers' data sheets, from memory";
  // Force laws. The light alloys' rows: "Milling Force Model for Aviation Aluminum Alloy", Chinese
  // J. Mech. Eng. 2022, doi 10.1186/s10033-021-00536-9, table 5 (6061-T6 244 + 7.5 / h, 6082-T6 631
  // + 13 / h, AlMgSi0.5 561 + 16.2 / h; 7075-T6 600 + 17.9, 767 + 27.7, 951 + 11.1 / h): low and
  // likely and high as docs/loads.md draws them. The others from memory, wide on purpose.
  static const std::string force_6061 =
      "published coefficients of three 6xxx alloys (Chinese J. Mech. Eng. 2022, table 5)";
  static const std::string force_7075 =
      "published coefficients of 7075-T6 (Chinese J. Mech. Eng. 2022, table 5)";
  static const std::string force_memory = "force from memory, a wide band";
  const auto row = [](const char* name, double density, std::array<Band, 4> force,
                      const std::string& force_source, double shear,
                      const std::string& shear_source, std::pair<double, double> speed,
                      std::pair<double, double> chip, double depth_per_diameter, double support,
                      double plunge_share, const std::string& source) {
    Material m;
    m.name = name;
    m.density_g_cm3 = density;
    m.ktc = force[0], m.kte = force[1], m.krc = force[2], m.kre = force[3];
    m.force_source = force_source;
    m.shear_n_mm2 = shear;
    m.shear_source = shear_source;
    m.cutting_speed = speed;
    m.chip_per_mm_diameter = chip;
    m.depth_per_diameter = depth_per_diameter;
    m.usual_support_mm2 = support;
    m.plunge_share = plunge_share;
    m.source = source;
    return m;
  };
  const auto filling = [](const char* name, double density, const std::string& source) {
    Material m;
    m.name = name;
    m.density_g_cm3 = density;
    m.source = source;
    m.cuttable = false;
    return m;
  };
  // Radial: 0.3 of ktc (geometric mean of the table's rows), 0.7 of kte in 6xxx and 1.1 in 7075.
  const auto radial = [](Band ktc, Band kte, double of_chip, double of_edge) {
    const auto times = [](Band b, double k) { return Band{k * b.low, k * b.likely, k * b.high}; };
    return std::array<Band, 4>{ktc, kte, times(ktc, of_chip), times(kte, of_edge)};
  };
  static const std::vector<Material> table = {
      row("6061-T6", 2.70, {{{250, 500, 700}, {7.5, 11, 17}, {75, 150, 210}, {5, 8, 12}}},
          force_6061, 200, aluminium, {150, 400}, {0.005, 0.015}, 0.5, 7.5, 0.3, memory),
      row("7075-T6", 2.81, {{{550, 750, 1000}, {11, 18, 28}, {165, 225, 300}, {12, 20, 31}}},
          force_7075, 330, aluminium, {150, 400}, {0.005, 0.015}, 0.5, 7.5, 0.3, memory),
      row("brass", 8.49, radial({450, 650, 1500}, {6, 12, 25}, 0.3, 0.7), force_memory, 230, brass,
          {100, 250}, {0.005, 0.012}, 0.4, 7.5, 0.3, memory),
      row("mild steel", 7.85, radial({1400, 1800, 2500}, {15, 30, 60}, 0.3, 0.9), force_memory, 350,
          steel, {80, 150}, {0.004, 0.010}, 0.25, 7.5, 0.3, memory),
      row("mdf", 0.75, radial({15, 30, 50}, {0.5, 1.5, 3}, 0.3, 0.7), force_memory, 2, board,
          {300, 900}, {0.015, 0.040}, 1.5, 40, 0.4, unconfirmed),
      row("hardwood", 0.70, radial({20, 40, 70}, {0.7, 2, 4}, 0.3, 0.7), force_memory, 8, wood,
          {300, 900}, {0.010, 0.030}, 1.0, 30, 0.4, unconfirmed),
      row("plywood", 0.68, radial({15, 35, 60}, {0.5, 1.8, 4}, 0.3, 0.7), force_memory, 2, plies,
          {300, 900}, {0.010, 0.035}, 1.0, 40, 0.4, unconfirmed),
      row("acetal", 1.41, radial({50, 80, 130}, {1, 2.5, 5}, 0.3, 0.7), force_memory, 55, acetal,
          {150, 500}, {0.010, 0.030}, 1.0, 20, 0.5, memory),
      row("printed plastic", 1.24, radial({30, 60, 110}, {0.5, 2, 5}, 0.3, 0.7), force_memory, 15,
          printed, {100, 400}, {0.008, 0.030}, 1.0, 30, 0.5, unconfirmed),
      filling("tungsten", 19.25, memory),
      filling("epoxy", 1.15, memory),
      filling("filled epoxy", 6.58, mixture),
  };
  return table;
}

namespace {

Band band_of(const job::Band& given) { return {given.low, given.likely, given.high}; }

// The job's own force law, whole or in part.
void take_force(const job::Material& m, Material& to) {
  const auto times = [](const Band& b, double k) {
    return Band{k * b.low, k * b.likely, k * b.high};
  };
  if (m.kc11) to.kc11 = *m.kc11;
  if (m.mc) to.mc = *m.mc;
  if (m.kr) to.kr = *m.kr;
  if (m.ktc) to.ktc = band_of(*m.ktc);
  if (m.kte) to.kte = band_of(*m.kte);
  // Radial figures not given go with the tangential ones: by kr, else by the means of the sources.
  if (m.ktc || m.kr) to.krc = times(to.ktc, m.kr.value_or(0.3));
  if (m.kte || m.kr) to.kre = times(to.kte, m.kr.value_or(0.7));
  if (m.krc) to.krc = band_of(*m.krc);
  if (m.kre) to.kre = band_of(*m.kre);
  if (m.ktc || m.kte || m.krc || m.kre || m.kr || m.kc11) to.force_source = "the job file";
}

// Where the figures of a material come from of which the job gives some: what it leaves out is the
// row's it started from, and in a material of the job's own that is another material's.
std::string source_of(const job::Material& m, const Material& from, bool own) {
  std::string left_out;
  for (const auto& [given, what] :
       {std::pair{m.density_g_cm3.has_value(), "density"},
        std::pair{m.kc11 || m.ktc, "cutting forces"}, std::pair{m.kc11 || m.kte, "edge forces"},
        std::pair{m.cutting_speed.has_value(), "cutting speed"},
        std::pair{m.chip_per_mm_diameter.has_value(), "chip"},
        std::pair{m.depth_per_diameter.has_value(), "depth rule"}}) {
    if (given) continue;
    left_out += (left_out.empty() ? "" : ", ") + std::string(what);
  }
  if (left_out.empty()) return "the job file";
  return "the job file; not given there and taken from " + from.name +
         (own ? ", which may be far off: " : ": ") + left_out + " (" + from.source + ")";
}

}  // namespace

std::optional<Material> find_material(std::string_view name,
                                      const std::map<std::string, job::Material>& overrides) {
  std::optional<Material> found;
  for (const Material& m : built_in_materials()) {
    if (m.name == name) found = m;
  }
  const auto own = overrides.find(std::string(name));
  if (own == overrides.end()) return found;
  const bool of_the_job = !found;
  if (of_the_job) {
    // A material of the job's own starts from the light alloys' figures where it leaves some out.
    found = built_in_materials().front();
    found->name = std::string(name);
    found->shear_source = "taken from " + built_in_materials().front().name;
    found->force_source = found->shear_source;
  }
  const job::Material& m = own->second;
  found->source = source_of(m, of_the_job ? built_in_materials().front() : *found, of_the_job);
  if (m.density_g_cm3) found->density_g_cm3 = *m.density_g_cm3;
  take_force(m, *found);
  if (m.shear_n_mm2) {
    found->shear_n_mm2 = *m.shear_n_mm2;
    found->shear_source = "the job file";
  }
  if (m.cutting_speed) found->cutting_speed = *m.cutting_speed;
  if (m.chip_per_mm_diameter) found->chip_per_mm_diameter = *m.chip_per_mm_diameter;
  if (m.depth_per_diameter) found->depth_per_diameter = *m.depth_per_diameter;
  return found;
}

}  // namespace proveout::cutting
