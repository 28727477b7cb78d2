#include "sim/causes/blank_signs.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/run/inputs.h"

namespace proveout::causes {
namespace {

constexpr double far_out = 1.25, far_in = 0.8;  // of the blank's side
constexpr double least_slack = 0.1;             // mm

// The part's box; none: no part, or a blank that is no box.
std::optional<Box3> part_in_box(const run::JobResult& result) {
  if (!result.inputs || !result.inputs->part || !result.job.stock.mesh.empty()) return std::nullopt;
  return mesh::bounds(result.inputs->part->mesh());
}

run::Cause swapped(const std::string& why) {
  run::Cause cause;
  cause.kind = run::CauseKind::blank;
  cause.text = "the blank's x and y are swapped: " + why;
  cause.remedy = "declare the blank as it lies, or post for it as declared";
  return cause;
}

// The part reaches out along one of x and y, and with the blank's two swapped it does not.
bool holds_part_swapped(const run::JobResult& result) {
  const std::optional<Box3> box = part_in_box(result);
  if (!box) return false;
  const Vec3 part = box->sizes(), blank = result.inputs->blank.sizes();
  const double slack = std::max(result.voxel, least_slack);
  const bool out = part.x() > blank.x() + slack || part.y() > blank.y() + slack;
  return out && part.x() <= blank.y() + slack && part.y() <= blank.x() + slack;
}

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
  run::Cause cause = swapped(fmt::format(
      "setup {}'s program covers {:.0f} x {:.0f} mm and the blank measures {:.0f} x {:.0f}",
      setup.name, c.x(), c.y(), b.x(), b.y()));
  cause.setup = setup.name;
  return cause;
}

bool has_room(const run::JobResult& result, const Vec3& moved) {
  const std::optional<Box3> box = part_in_box(result);
  if (!box) return true;
  const double slack = std::max(result.voxel, least_slack);
  const Box3& blank = result.inputs->blank;
  const Box3 wide(blank.min().array() - slack, blank.max().array() + slack);
  if (!wide.contains(*box)) return true;
  return wide.contains(Vec3(box->min() + moved)) && wide.contains(Vec3(box->max() + moved));
}

bool was_never_there(const run::JobResult& result, const Finding& gouge) {
  if (gouge.line == 0) return true;
  const std::optional<Box3> box = part_in_box(result);
  if (!box) return false;
  const Box3& blank = result.inputs->blank;
  const double out =
      std::max((blank.min() - box->min()).maxCoeff(), (box->max() - blank.max()).maxCoeff());
  return out > result.voxel && std::abs(gouge.value - out) <= result.voxel / 2;
}

std::optional<run::Cause> lacks_part(const run::JobResult& result) {
  const std::vector<Finding>& all = result.findings;
  const auto outside = std::find_if(
      all.begin(), all.end(), [](const Finding& f) { return f.detail == "part-outside-blank"; });
  const bool missing = std::any_of(all.begin(), all.end(), [&](const Finding& f) {
    return f.kind == FindingKind::gouge && f.level == Severity::error && was_never_there(result, f);
  });
  if (outside == all.end() || !missing) return std::nullopt;
  if (holds_part_swapped(result)) return swapped(outside->text);
  run::Cause c;
  c.kind = run::CauseKind::blank;
  c.text = outside->text;
  if (const std::size_t colon = c.text.find(": "); colon != std::string::npos)
    c.text.replace(colon, 2, " by ");
  c.text += ": a blank of another size than declared, or [part] origin";
  c.remedy = "measure the blank; mend [stock] size, or [part] origin";
  return c;
}

}  // namespace proveout::causes
