#include "sim/after/finishing.h"

#include <algorithm>
#include <cmath>

#include "sim/measure/probe.h"
#include "sim/measure/surface_samples.h"
#include "sim/run/inputs.h"

namespace proveout::after {
namespace {

constexpr std::size_t most_samples = 1'500'000;
constexpr double near_voxels = 3;  // of path: short motions may leave less than a voxel (choice)
// Of a stretch's way: rows nearer to each other than a voxel share its surface by chance (choice).
constexpr double whole_share = 0.2;

// Of the stretch [first, end): what lies along it within `within` mm of a motion that made surface.
void spread(const std::vector<nc::Motion>& motions, std::size_t first, std::size_t end,
            double within, const std::vector<bool>& made, std::vector<bool>& out) {
  const auto one_way = [&](auto from, auto to, auto step) {
    double since = within + 1;
    for (auto i = from; i != to; i += step) {
      const auto at = static_cast<std::size_t>(i);
      if (made[at]) since = 0;
      if (since <= within) out[at] = true;
      if (!made[at]) since += nc::length(motions[at]);
    }
  };
  const auto a = static_cast<std::ptrdiff_t>(first), b = static_cast<std::ptrdiff_t>(end);
  one_way(a, b, std::ptrdiff_t{1});
  one_way(b - 1, a - 1, std::ptrdiff_t{-1});
}

double way(const std::vector<nc::Motion>& motions, std::size_t first, std::size_t end,
           const std::vector<bool>* of) {
  double out = 0;
  for (std::size_t i = first; i < end; ++i)
    out += of == nullptr || (*of)[i] ? nc::length(motions[i]) : 0;
  return out;
}

// Rows as narrow as a voxel may be left none of the surface they made, but their tip lies on it.
void tips_on_surface(const run::JobResult& result, const solid::PartDistance* part, double near,
                     std::size_t setup, std::vector<bool>& made) {
  const run::SetupResult& s = result.setups[setup];
  const measure::StockProbe probe(*result.stock);
  for (std::size_t i = 0; i < made.size(); ++i) {
    const nc::Motion& m = s.source->motions[i];
    if (made[i] || m.kind == nc::PathKind::rapid || s.cut.motions[i].sample_count == 0) continue;
    for (const double share : {0.1, 0.5, 0.9}) {
      const Vec3 tip = s.stock_from_setup * Vec3(nc::point_at(m, share));
      if (std::abs(probe.at(tip)) > result.voxel) continue;
      if (part == nullptr || std::abs(part->at(tip, 1.5 * near)) <= near) made[i] = true;
    }
  }
}

}  // namespace

std::vector<std::vector<bool>> finishing_motions(const run::JobResult& result) {
  std::vector<std::vector<bool>> made, out;
  for (const run::SetupResult& s : result.setups) {
    made.emplace_back(s.source->motions.size(), false);
    out.emplace_back(s.source->motions.size(), false);
  }
  if (!result.stock) return out;
  const solid::PartDistance* part = result.inputs ? run::part_of(result) : nullptr;
  double near = 2 * result.voxel;
  if (part != nullptr) near = std::max(near, result.job.part->excess_tolerance);
  const auto by_cut = [](const Vec3&, stock::MotionId by) { return by != 0; };
  for (const measure::SurfaceSample& s :
       measure::surface_samples(*result.stock, by_cut, most_samples)) {
    const auto by = result.origin(s.by);
    if (!by || made[by->setup][by->motion]) continue;
    if (part == nullptr || std::abs(part->at(s.at.cast<double>(), 1.5 * near)) <= near)
      made[by->setup][by->motion] = true;
  }
  for (std::size_t k = 0; k < result.setups.size(); ++k) {
    tips_on_surface(result, part, near, k, made[k]);
    const nc::Program& program = *result.setups[k].source;
    const auto rapid = [&](std::size_t i) {
      return program.motions[i].kind == nc::PathKind::rapid;
    };
    const auto tool = [&](std::size_t i) { return program.states[program.motions[i].state].tool; };
    const std::size_t count = program.motions.size();
    for (std::size_t i = 0; i < count;) {
      std::size_t end = i + 1;
      while (end < count && !rapid(i) && !rapid(end) && tool(end) == tool(i)) ++end;
      if (!rapid(i)) {
        spread(program.motions, i, end, near_voxels * result.voxel, made[k], out[k]);
        if (way(program.motions, i, end, &out[k]) >=
            whole_share * way(program.motions, i, end, nullptr))
          std::fill(out[k].begin() + static_cast<std::ptrdiff_t>(i),
                    out[k].begin() + static_cast<std::ptrdiff_t>(end),
                    way(program.motions, i, end, &out[k]) > 0);
      }
      i = end;
    }
  }
  return out;
}

}  // namespace proveout::after
