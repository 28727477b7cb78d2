#include "report/page/build/exact_places.h"

namespace proveout::page {

using stock::NearMotions;

Sheet ExactPlace::blank_sheet(const Vec3& at) const {
  Sheet sheet;
  const stock::BlankShape& blank = exact_.blank();
  if (blank.mesh != nullptr) {
    sheet.blank = 6;
    return sheet;
  }
  double most = -1e30;
  for (int face = 0; face < 6; ++face) {
    const int k = face >> 1;
    const double value = (face & 1) != 0 ? at[k] - blank.box.max()[k] : blank.box.min()[k] - at[k];
    if (value <= most) continue;
    most = value;
    sheet.blank = face;
  }
  return sheet;
}

Sheet ExactPlace::sheet_at(const Vec3& at) {
  std::uint32_t by = NearMotions::none;
  value(at, &by);
  if (by == NearMotions::none) return blank_sheet(at);
  Sheet sheet;
  sheet.motion = by;
  near_.faces_near(by, at, faces_);
  double most = -1e30;
  for (std::size_t k = 0; k < faces_.size(); ++k) {
    if (faces_[k].distance <= most) continue;
    most = faces_[k].distance;
    sheet.face = static_cast<int>(k);
  }
  // The body's upper end, and what else is none of these faces.
  if (sheet.face >= 0 && std::abs(most - near_.distance(by, at)) > 1e-6) sheet.face = -1;
  return sheet;
}

double ExactPlace::value_of(const Sheet& sheet, const Vec3& at, Vec3& slope) {
  if (sheet.blank == 6) {
    const auto n = exact_.blank().mesh->nearest(at);
    slope = n.slope;
    return n.distance;
  }
  if (sheet.blank >= 0) {
    const int k = sheet.blank >> 1;
    const bool high = (sheet.blank & 1) != 0;
    const Box3& box = exact_.blank().box;
    slope = Vec3::Unit(k) * (high ? 1 : -1);
    return high ? at[k] - box.max()[k] : box.min()[k] - at[k];
  }
  if (sheet.face >= 0) {
    near_.faces_near(sheet.motion, at, faces_);
    if (static_cast<std::size_t>(sheet.face) < faces_.size()) {
      const stock::Nearness& n = faces_[static_cast<std::size_t>(sheet.face)];
      slope = -n.slope;
      return -n.distance;
    }
  }
  const stock::Nearness n = near_.near(sheet.motion, at);
  slope = -n.slope;
  return -n.distance;
}

}  // namespace proveout::page
