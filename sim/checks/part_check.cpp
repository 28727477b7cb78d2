#include "sim/checks/part_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/measure/deviation.h"
#include "sim/measure/measure.h"
#include "sim/measure/missing_part.h"
#include "sim/measure/support.h"

namespace proveout::checks {
namespace {

void add_spots(const run::JobResult& result, const std::vector<measure::DeviationSpot>& spots,
               FindingKind kind, double limit, FindingCollector& findings) {
  for (const measure::DeviationSpot& s : spots) {
    Finding f;
    f.kind = kind;
    f.level = Severity::error;
    f.value = std::abs(s.deviation);
    f.limit = limit;
    f.unit = "mm";
    std::size_t setup = result.setups.size() - 1;
    if (const auto origin = result.origin(s.by)) {
      setup = origin->setup;
      const nc::Program& program = *result.setups[setup].source;
      const nc::Motion& m = program.motions[origin->motion];
      f.line = m.line;
      f.tool = program.states[m.state].tool;
      f.file = result.setups[setup].program;
      f.setup = result.setups[setup].name;
    } else if (kind == FindingKind::excess) {
      f.detail = "uncut";
    }
    f.at = result.setups[setup].stock_from_setup.inverse() * s.at;
    f.text = kind == FindingKind::gouge
                 ? fmt::format("cuts {:.2f} mm into the part, {:.2f} allowed", f.value, limit)
             : f.line == 0
                 ? fmt::format("{:.2f} mm left on the part where nothing cut, {:.2f} allowed",
                               f.value, limit)
                 : fmt::format("leaves {:.2f} mm on the part, {:.2f} allowed", f.value, limit);
    findings.add(std::move(f));
  }
}

// Smallest section in a support's box (mm2): of the bridges within it where some were found, since
// the box may take in frame as well.
double support_area(const run::JobResult& result, const Box3& box, double through_box) {
  double of_bridges = 0;
  for (const run::BridgeResult& b : result.setups.back().bridges) {
    if (box.exteriorDistance(b.at) < result.voxel) of_bridges += b.area_mm2;
  }
  return of_bridges > 0 ? std::min(of_bridges, through_box) : through_box;
}

// Supports far larger than is usual: they cost a saw and leave a scar. One too small is for the
// bridges to tell (holding.h).
void check_supports(const run::JobResult& result, const cutting::Material& material,
                    FindingCollector& findings) {
  if (!(material.usual_support_mm2 > 0)) return;
  for (const Box3& box : result.job.part->supports) {
    const measure::SupportSection s = measure::support_section(*result.stock, box);
    const double area = support_area(result, box, s.area_mm2);
    if (area <= 2 * material.usual_support_mm2) continue;
    Finding f;
    f.kind = FindingKind::excess;
    f.level = Severity::warning;
    f.detail = "support";
    std::size_t setup = result.setups.size() - 1;
    if (const auto origin = result.origin(s.left_by)) {
      setup = origin->setup;
      const nc::Program& program = *result.setups[setup].source;
      const nc::Motion& m = program.motions[origin->motion];
      f.line = m.line;
      f.tool = program.states[m.state].tool;
    }
    f.setup = result.setups[setup].name;
    f.file = result.setups[setup].program;
    f.at = result.setups[setup].stock_from_setup.inverse() * s.at;
    f.value = area;
    f.limit = material.usual_support_mm2;
    f.unit = "mm2";
    f.text =
        fmt::format("a support of {:.0f} mm2 is left, {:.1f} mm2 is usual in {} (common practice)",
                    f.value, f.limit, material.name);
    findings.add(std::move(f));
  }
}

// The same question asked from the part's side. Speaks where the surfaces that are left told far
// less: of a part that is gone they tell nothing. No line: the cut that took it may be any.
void check_missing(const run::JobResult& result, const stock::Stock& finished,
                   const solid::PartDistance& part, run::PartResult& p,
                   FindingCollector& findings) {
  const job::Part& asked = *result.job.part;
  const measure::MissingPart m =
      measure::missing_part(finished, part, asked.gouge_tolerance, asked.supports);
  const double grain = 8 * std::pow(m.spacing, 3);
  if (m.deep < 4 || !(m.volume_mm3 > 1.5 * p.gouge_mm3 + grain)) return;
  Finding f;
  f.kind = FindingKind::gouge;
  f.level = Severity::error;
  f.detail = 4 * m.volume_mm3 > 3 * p.mesh_volume_mm3 ? "part-lost" : "missing";
  f.setup = result.setups.back().name;
  f.file = result.setups.back().program;
  f.at = result.setups.back().stock_from_setup.inverse() * m.at;
  f.value = m.depth;
  f.limit = asked.gouge_tolerance;
  f.unit = "mm";
  f.text = fmt::format("{}: {:.0f} of its {:.0f} mm3 are missing, to {:.1f} mm below its surface",
                       f.detail == "part-lost" ? "the part is lost" : "a piece of the part is gone",
                       m.volume_mm3, p.mesh_volume_mm3, m.depth);
  p.gouge_mm3 = std::max(p.gouge_mm3, m.volume_mm3);
  p.worst_gouge = std::max(p.worst_gouge, m.depth);
  findings.add(std::move(f));
}

}  // namespace

PartOutcome check_part(const run::JobResult& result, const solid::PartDistance* part,
                       const cutting::Material& material, FindingCollector& findings) {
  stock::Stock finished = result.stock->clone();
  if (part != nullptr && !result.job.part->supports.empty()) {
    measure::remove_boxes(finished, result.job.part->supports);
  }
  measure::keep_one_piece(finished, part);
  const measure::MassProperties mass = measure::mass_properties(finished);
  PartOutcome out{std::move(finished), {}, std::vector<double>(result.setups.size(), 0.0)};
  run::PartResult& p = out.part;
  p.volume_mm3 = mass.volume;
  p.mass_g = mass.volume * material.density_g_cm3 / 1000;
  p.centre = mass.centre;
  p.inertia_g_mm2 = mass.inertia * material.density_g_cm3 / 1000;
  if (part == nullptr) return out;
  p.compared = true;
  check_supports(result, material, findings);
  const mesh::MeshMass meant = mesh::mass_of(part->mesh());
  p.mesh_volume_mm3 = meant.volume;
  p.mesh_centre = meant.centre;
  p.mesh_inertia_g_mm2 = meant.inertia * material.density_g_cm3 / 1000;
  const job::Part& asked = *result.job.part;
  const measure::Deviation d = measure::deviation(out.finished, *part, asked.gouge_tolerance,
                                                  asked.excess_tolerance, asked.supports);
  p.gouge_mm3 = d.gouge_mm3;
  p.worst_gouge = d.worst_gouge;
  p.excess_mm3 = d.excess_mm3;
  p.worst_excess = d.worst_excess;
  for (const measure::DeviationSpot& s : d.gouges) {
    if (const auto by = result.origin(s.by)) out.gouge_mm3[by->setup] += s.volume_mm3;
  }
  add_spots(result, d.gouges, FindingKind::gouge, asked.gouge_tolerance, findings);
  add_spots(result, d.excesses, FindingKind::excess, asked.excess_tolerance, findings);
  check_missing(result, out.finished, *part, p, findings);
  return out;
}

constinit const run::Check kinds::gouge{
    .kind = FindingKind::gouge,
    .level = Severity::error,
    .meaning = "the finished surface lies inside the part: material is missing",
    .help =
        "Look at the line named: too deep, wrong tool, wrong zero, or stock allowance forgotten.",
    .needs = "a part mesh",
    .lacks = run::Lack::part,
    .not_checked = lacking_a_part};

constinit const run::Check kinds::excess{
    .kind = FindingKind::excess,
    .level = Severity::error,
    .meaning = "material is left on the part beyond the tolerance",
    .help =
        "A wall not cut to the bottom, a region no tool reached, or a support larger than "
        "declared.",
    .needs = "a part mesh",
    .lacks = run::Lack::part,
    .not_checked = lacking_a_part};

}  // namespace proveout::checks
