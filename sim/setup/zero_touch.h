// What a setup's zero touches: which face, made by whom, how far in, and what lies under the tip.
#pragma once

#include <array>
#include <string>

#include "parser/base/geometry.h"
#include "parser/job/job.h"

namespace proveout::setup {

// Who made the face that gives one coordinate of the zero.
enum class FaceOf : std::uint8_t { blank, earlier_setups, point };

struct ZeroTouch {
  std::array<FaceOf, 3> face{};  // along the machine's x, y, z
  Vec3 from_low = Vec3::Zero();  // mm from the blank's left, front, bottom face, as it lies
  bool on_material = false;      // material within reach of X0 Y0
  double surface = 0;            // mm, setup frame: the highest such material
  std::string text;              // the above as sentences, for the person who touches off
};

// setup, blank, milled_extent: as for stock_from_setup. voxel: mm; a face is the blank's own when
// it lies within half of it. The locating error is left out: this is where the zero is meant to be.
// surface_at(x, y): height (mm, setup frame without locating error) of the highest material there,
// or a value below -1e8; asked within probe_mm of X0 Y0, since a zero often lies on an edge.
inline constexpr double probe_mm = 1.0;
template <class SurfaceAt>
double highest_near_zero(SurfaceAt surface_at) {
  double highest = -1e9;
  for (int i = -1; i <= 1; ++i) {
    for (int j = -1; j <= 1; ++j) {
      const double found = surface_at(i * probe_mm, j * probe_mm);
      if (found > highest) highest = found;
    }
  }
  return highest;
}
ZeroTouch zero_touch(const job::Setup& setup, const Box3& blank, const Box3& milled_extent,
                     double voxel, double highest_near_zero);

}  // namespace proveout::setup
