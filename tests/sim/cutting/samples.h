// Engagement samples of the cutting tests.
#pragma once

#include "sim/stock/stock.h"

namespace proveout::cutting {

// 1 mm of a cut depth deep and width wide (mm) with its material between two angles (deg, the
// engagement's sense).
inline stock::EngagementSample sample_of(double depth, double width, double from, double to) {
  stock::EngagementSample s;
  s.length = 1;
  s.axial_depth = static_cast<float>(depth);
  s.radial_width = static_cast<float>(width);
  s.arc_from = static_cast<float>(from);
  s.arc_to = static_cast<float>(to);
  s.arc = s.arc_to - s.arc_from;
  s.removed_mm3 = static_cast<float>(depth * width);
  return s;
}

}  // namespace proveout::cutting
