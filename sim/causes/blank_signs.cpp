#include "sim/causes/blank_signs.h"

#include <fmt/format.h>

namespace proveout::causes {
namespace {

constexpr double far_out = 1.25, far_in = 0.8;  // of the blank's side

}  // namespace

std::optional<run::Cause> sides_swapped(const run::SetupResult& setup, const Box3& blank) {
  Box3 covered;
  for (const nc::Motion& m : setup.source->motions) {
    if (m.kind == nc::PathKind::rapid) continue;
    covered.extend(m.start);
    covered.extend(m.end);
  }
  if (covered.isEmpty() || blank.isEmpty()) return std::nullopt;
  const Vec3 c = covered.sizes(), b = blank.sizes();
  const bool out_in_x = c.x() > far_out * b.x() && c.y() < far_in * b.y();
  const bool out_in_y = c.y() > far_out * b.y() && c.x() < far_in * b.x();
  const bool fits_swapped = c.x() <= far_out * b.y() && c.y() <= far_out * b.x();
  if (!(out_in_x || out_in_y) || !fits_swapped) return std::nullopt;
  run::Cause cause;
  cause.kind = run::CauseKind::blank;
  cause.setup = setup.name;
  cause.text = fmt::format(
      "the blank's x and y are swapped: setup {}'s program covers {:.0f} x {:.0f} mm and the blank "
      "measures {:.0f} x {:.0f}",
      setup.name, c.x(), c.y(), b.x(), b.y());
  cause.remedy = "declare the blank as it lies, or post for it as declared";
  return cause;
}

}  // namespace proveout::causes
