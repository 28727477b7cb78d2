// How much holds the part: the smallest section of the material within a support's box.
#pragma once

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct SupportSection {
  double area_mm2 =
      0;  // smallest section across the box, in x or y: the way more material runs through
  Vec3 at = Vec3::Zero();       // mm, stock coordinates: middle of the box
  stock::MotionId left_by = 0;  // the motion that last cut the support's surface
};

// box: stock coordinates, reaching from the part to what it is tied to. area 0: nothing runs
// through.
SupportSection support_section(const stock::Stock& stock, const Box3& box);

}  // namespace proveout::measure
