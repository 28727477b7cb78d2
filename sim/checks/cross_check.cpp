#include "sim/checks/cross_check.h"

#include <fmt/format.h>

#include <cmath>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

void disagree(const run::JobResult& result, double off, double allowed, std::string text,
              FindingCollector& findings) {
  Finding f;
  f.kind = FindingKind::cross_check;
  f.level = Severity::error;
  if (!result.setups.empty()) {
    f.setup = result.setups.back().name;
    f.file = result.setups.back().program;
  }
  f.value = off;
  f.limit = allowed;
  f.unit = "mm3";
  f.text = std::move(text) + "; what is said of gouges and excess may be wrong";
  findings.add(std::move(f));
}

}  // namespace

void cross_check(const run::JobResult& result, const run::PartResult& part,
                 const measure::TwoWay& found, const measure::MissingPart& lattice,
                 FindingCollector& findings) {
  const double bound = measure::cross_check_bound(found, result.voxel);
  const double differ = part.volume_mm3 - part.mesh_volume_mm3;
  const double told = found.excess_mm3 - found.gouge_mm3;
  if (!(std::abs(differ - told) <= bound)) {
    disagree(result, std::abs(differ - told), bound,
             fmt::format("the volumes of stock and part differ by {:.2f} mm3, left on less missing "
                         "is {:.2f} mm3: more than {:.2f} mm3 apart",
                         differ, told, bound),
             findings);
  }
  if (!(found.contradicted_mm3 <= 0.1 * bound)) {
    disagree(result, found.contradicted_mm3, 0.1 * bound,
             fmt::format("motions and grid tell different sides of {:.2f} mm3 beside the surface",
                         found.contradicted_mm3),
             findings);
  }
  const double allowed = 1.5 * found.gouge_mm3 + 8 * std::pow(lattice.spacing, 3);
  if (lattice.deep >= 4 && !(lattice.volume_mm3 <= allowed)) {
    disagree(result, lattice.volume_mm3, allowed,
             fmt::format("of the part's inside about {:.1f} mm3 lie in air, to {:.2f} mm below its "
                         "surface, and {:.1f} mm3 are told to be missing",
                         lattice.volume_mm3, lattice.depth, found.gouge_mm3),
             findings);
  }
}

constinit const run::Check kinds::cross_check{
    .kind = FindingKind::cross_check,
    .level = Severity::error,
    .meaning = "two ways of comparing the stock with the part disagree",
    .help =
        "Do not go by what the report says about the part; run again with a finer voxel, and "
        "report it as a fault of the program with the job's files.",
    .needs = "a part mesh",
    .lacks = run::Lack::part,
    .not_checked = lacking_a_part};

}  // namespace proveout::checks
