#include "sim/checks/part_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/checks/cross_check.h"
#include "sim/checks/lacking.h"
#include "sim/checks/part_lost.h"
#include "sim/checks/registry.h"
#include "sim/measure/measure.h"
#include "sim/measure/missing_part.h"
#include "sim/measure/support.h"
#include "sim/measure/supports_off.h"
#include "sim/measure/two_way.h"
#include "sim/run/exact_after.h"
#include "sim/stock/on_threads.h"

namespace proveout::checks {
namespace {

// Where a place of the stock was made: setup, tool and line, as far as there are any.
void place(const run::JobResult& result, stock::MotionId by, const Vec3& at, Finding& f) {
  std::size_t setup = result.setups.size() - 1;
  if (const auto origin = result.origin(by)) {
    setup = origin->setup;
    const nc::Program& program = *result.setups[setup].source;
    const nc::Motion& m = program.motions[origin->motion];
    f.line = m.line;
    f.tool = program.states[m.state].tool;
    f.file = result.setups[setup].program;
    f.setup = result.setups[setup].name;
  }
  f.at = result.setups[setup].stock_from_setup.inverse() * at;
}

// Three figures of a number, > 0, without an exponent where it is large: 0.72, 12.3, 1480.
std::string three_figures(double v) {
  if (v < 999.5) return fmt::format("{:.3g}", v);
  const double last = std::pow(10, std::floor(std::log10(v)) - 2);
  return fmt::format("{:.0f}", std::round(v / last) * last);
}

// One finding a region.
void add_regions(const run::JobResult& result, const std::vector<measure::DeviationRegion>& regions,
                 FindingKind kind, double limit, FindingCollector& findings) {
  for (const measure::DeviationRegion& r : regions) {
    Finding f;
    f.kind = kind;
    f.level = Severity::error;
    f.value = r.depth;
    f.limit = limit;
    f.unit = "mm";
    place(result, r.by, r.at, f);
    const std::string size =
        fmt::format("over {} mm2, {} mm3", three_figures(r.area_mm2), three_figures(r.volume_mm3));
    if (kind == FindingKind::gouge) {
      f.text = fmt::format("cuts {:.2f} mm into the part {}; {:.2f} allowed", f.value, size, limit);
    } else if (f.line == 0) {
      f.detail = "uncut";
      f.text = fmt::format("{:.2f} mm left on the part where nothing cut {}; {:.2f} allowed",
                           f.value, size, limit);
    } else if (r.passed) {
      f.detail = "uncut";
      f.text =
          fmt::format("passes {:.2f} mm left on the part and does not cut it {}; {:.2f} allowed",
                      f.value, size, limit);
    } else {
      f.text = fmt::format("leaves {:.2f} mm on the part {}; {:.2f} allowed", f.value, size, limit);
    }
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
    f.setup = result.setups.back().name;
    f.file = result.setups.back().program;
    place(result, s.left_by, s.at, f);
    f.value = area;
    f.limit = material.usual_support_mm2;
    f.unit = "mm2";
    f.text =
        fmt::format("a support of {:.0f} mm2 is left, {:.1f} mm2 is usual in {} (common practice)",
                    f.value, f.limit, material.name);
    findings.add(std::move(f));
  }
}

// A support's box that reaches into the part takes nothing from it: said, since the job file may
// mean something else.
void note_supports_in_part(const run::JobResult& result, const solid::PartDistance& part,
                           FindingCollector& findings) {
  constexpr int across = 12;
  for (const Box3& box : result.job.part->supports) {
    double deepest = 0;
    Vec3 at = box.center();
    for (int n = 0; n < (across + 1) * (across + 1) * (across + 1); ++n) {
      const Eigen::Vector3i step(n % (across + 1), n / (across + 1) % (across + 1),
                                 n / (across + 1) / (across + 1));
      const Vec3 p = box.min() + (step.cast<double>() / across).cwiseProduct(box.sizes());
      const double depth = -part.at(p);
      if (depth <= deepest) continue;
      deepest = depth;
      at = p;
    }
    if (deepest <= std::max(0.05, result.job.part->gouge_tolerance)) continue;
    Finding f;
    f.kind = FindingKind::job;
    f.level = Severity::note;
    f.detail = "support-in-part";
    f.file = result.job.file.filename().string();
    f.at = result.setups.back().stock_from_setup.inverse() * at;
    f.value = deepest;
    f.unit = "mm";
    f.text = fmt::format(
        "a support's box reaches {:.1f} mm into the part: only what lies outside the part is taken "
        "off",
        deepest);
    findings.add(std::move(f));
  }
}

measure::TwoWay compare(const run::JobResult& result, const stock::Stock& finished,
                        const solid::FaceTree& part, const PartCheckInput& in) {
  Box3 region = in.blank.box;
  region.extend(mesh::bounds(part.mesh()));
  const auto exact = run::exact_after(result, result.setups.size(), in.blank, in.bodies, region);
  const job::Part& asked = *result.job.part;
  const auto look = [&] {
    return measure::compare_two_ways(
        {*exact, finished, part, asked.gouge_tolerance, asked.excess_tolerance, asked.supports});
  };
  return stock::on_threads(in.threads, look);
}

// How much of the part must be left for it to be compared place by place (choice): below, it is
// lost.
constexpr double lost_share = 0.01;

}  // namespace

PartOutcome check_part(const run::JobResult& result, const PartCheckInput& in,
                       const cutting::Material& material, FindingCollector& findings) {
  const solid::PartDistance* part = in.part;
  stock::Stock finished = result.stock->clone();
  if (part != nullptr && !result.job.part->supports.empty()) {
    measure::take_supports_off(finished, result.job.part->supports, part->faces());
    note_supports_in_part(result, *part, findings);
  }
  measure::keep_one_piece(finished, part);
  const measure::MassProperties mass = measure::mass_properties(finished);
  PartOutcome out{std::move(finished), {}, std::vector<double>(result.setups.size(), 0.0)};
  run::PartResult& p = out.part;
  // The grid smears what is thinner than a voxel, below nothing at worst.
  p.volume_mm3 = std::max(0.0, mass.volume);
  p.mass_g = p.volume_mm3 * material.density_g_cm3 / 1000;
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
  const measure::TwoWay d = compare(result, out.finished, part->faces(), in);
  p.gouge_mm3 = d.gouge_mm3;
  p.gouge_beyond_mm3 = d.gouge_beyond_mm3;
  p.worst_gouge = d.worst_gouge;
  p.worst_gouge_thickness = d.worst_gouge_thickness;
  p.excess_mm3 = d.excess_mm3;
  p.excess_beyond_mm3 = d.excess_beyond_mm3;
  p.worst_excess = d.worst_excess;
  for (const measure::DeviationRegion& r : d.gouges) {
    if (const auto by = result.origin(r.by)) out.gouge_mm3[by->setup] += r.volume_mm3;
  }
  // Of a part too small to be seen nothing is told to be missing either.
  if (d.shared_mm3 < lost_share * meant.volume && d.gouge_mm3 > 0.5 * meant.volume) {
    Finding lost = part_lost(d.gouge_mm3, meant.volume);
    lost.setup = result.setups.back().name;
    lost.file = result.setups.back().program;
    if (!d.gouges.empty()) place(result, d.gouges.front().by, d.gouges.front().at, lost);
    findings.add(std::move(lost));
    return out;  // of what is left nothing can be told place by place
  }
  cross_check(result, p, d,
              measure::missing_part(out.finished, *part, asked.gouge_tolerance, asked.supports),
              findings);
  add_regions(result, d.gouges, FindingKind::gouge, asked.gouge_tolerance, findings);
  add_regions(result, d.excesses, FindingKind::excess, asked.excess_tolerance, findings);
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
