#include "sim/checks/inserts.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/measure/bores.h"
#include "sim/measure/measure.h"
#include "sim/measure/pockets.h"

namespace proveout::checks {
namespace {

constexpr double least_pocket_mm3 = 20;
constexpr std::size_t most_pockets = 8;
constexpr double clearance = 0.2;  // mm of diameter between plug and wall

// The widest plug of a pocket that takes a volume, lying as low as it can.
std::optional<measure::Plug> plug_for(const std::vector<measure::Plug>& plugs, double volume) {
  std::optional<measure::Plug> best;
  for (const measure::Plug& p : plugs) {
    const double wide = p.diameter - clearance;
    if (!(wide > 1)) continue;
    const double height = volume / (pi / 4 * wide * wide);
    if (height > p.height || (best && best->diameter >= wide)) continue;
    best = measure::Plug{wide, height};
  }
  return best;
}

// Nothing is let into a board: it swells, splits and is a proxy for the part at best (common
// practice, no source).
bool takes_inserts(const std::string& material) {
  return material != "mdf" && material != "plywood";
}

// Of the part's volume: more than that is not bored out of it for an insert (a choice). Nor more
// than there is room for in so many bores with so much left about each (common practice, no
// source).
constexpr double most_bored = 0.25;
constexpr std::size_t most_bores = 4;
constexpr double wall_left = 2;       // mm
constexpr double bore_cells = 20000;  // about, over a setup's side

double room_in(const std::vector<measure::Bore>& bores) {
  double out = 0;
  for (const measure::Bore& b : bores) out += b.volume_mm3();
  return out;
}

// From the side that has most.
double find_bores(const run::JobResult& result, const stock::Stock& finished,
                  run::MassTarget& out) {
  double room = 0;
  for (const run::SetupResult& setup : result.setups) {
    const Box3 box = measure::extent(finished, setup.stock_from_setup.linear().transpose());
    if (box.isEmpty()) continue;
    const double cell =
        std::max({0.5, result.voxel, std::sqrt(box.sizes().x() * box.sizes().y() / bore_cells)});
    const std::vector<measure::Bore> found =
        measure::bores(finished, setup.stock_from_setup, cell, wall_left, most_bores);
    if (!(room_in(found) > room)) continue;
    room = room_in(found);
    out.bores.clear();
    for (const measure::Bore& b : found)
      out.bores.push_back({setup.name, b.at, b.diameter, b.depth});
  }
  return room;
}

bool poured(const cutting::Material& m) { return m.name.find("epoxy") != std::string::npos; }

}  // namespace

double added_volume(double missing_g, double insert_density) {
  return missing_g > 0 && insert_density > 0 ? 1000 * missing_g / insert_density : 0;
}

double replaced_volume(double missing_g, double insert_density, double own_density) {
  const double volume = 1000 * missing_g / (insert_density - own_density);
  return std::isfinite(volume) && volume > 0 ? volume : 0;
}

run::MassTarget weigh_against_target(const run::JobResult& result, const stock::Stock& finished,
                                     double own_density, double cell) {
  run::MassTarget out;
  out.target_g = result.job.part ? result.job.part->target_mass_g : 0;
  if (!(out.target_g > 0)) return out;
  out.missing_g = out.target_g - result.part.mass_g;
  std::vector<std::vector<measure::Plug>> plugs;
  if (out.missing_g > 0 && takes_inserts(result.material)) {
    for (const run::SetupResult& setup : result.setups) {
      for (const measure::Pocket& p :
           measure::pockets(finished, setup.stock_from_setup, cell, least_pocket_mm3)) {
        if (out.pockets.size() == most_pockets) break;
        out.pockets.push_back({setup.name, p.at, p.volume_mm3, p.depth, p.area_mm2,
                               p.plugs.empty() ? 0 : p.plugs.back().diameter});
        plugs.push_back(p.plugs);
      }
    }
  }
  if (!takes_inserts(result.material)) return out;
  const double room = find_bores(result, finished, out);
  for (const cutting::Material& m : cutting::built_in_materials()) {
    if (m.cuttable && m.name != "brass") continue;
    run::InsertOption option;
    option.material = m.name;
    option.density_g_cm3 = m.density_g_cm3;
    option.source = m.source;
    option.added_mm3 = added_volume(out.missing_g, m.density_g_cm3);
    option.replaced_mm3 = replaced_volume(out.missing_g, m.density_g_cm3, own_density);
    if (option.replaced_mm3 > std::min(room, most_bored * result.part.volume_mm3))
      option.replaced_mm3 = 0;
    for (std::size_t k = 0; k < out.pockets.size() && option.added_mm3 > 0; ++k) {
      if (option.added_mm3 > out.pockets[k].volume_mm3) continue;
      if (poured(m)) {
        option.pocket = static_cast<int>(k) + 1;
        break;
      }
      if (const auto plug = plug_for(plugs[k], option.added_mm3)) {
        option.pocket = static_cast<int>(k) + 1;
        option.plug_diameter = plug->diameter;
        option.plug_height = plug->height;
        break;
      }
    }
    out.inserts.push_back(std::move(option));
  }
  return out;
}

}  // namespace proveout::checks
