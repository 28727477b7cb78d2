#include "sim/checks/part_lost.h"

#include <fmt/format.h>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"

namespace proveout::checks {

Finding part_lost(double missing_mm3, double meant_mm3) {
  Finding f;
  f.kind = FindingKind::part_lost;
  f.level = Severity::error;
  f.value = missing_mm3;
  f.limit = meant_mm3;
  f.unit = "mm3";
  f.text =
      fmt::format("the part is lost: {:.0f} of its {:.0f} mm3 are missing", missing_mm3, meant_mm3);
  return f;
}

constinit const run::Check kinds::part_lost{
    .kind = FindingKind::part_lost,
    .level = Severity::error,
    .meaning = "hardly anything of the part is left: less than a hundredth of its volume",
    .help =
        "Look at zero, sides and the part's place in the stock before anything else; the line "
        "named made the surface nearest to where the part should be.",
    .needs = "a part mesh",
    .lacks = run::Lack::part,
    .not_checked = lacking_a_part};

}  // namespace proveout::checks
