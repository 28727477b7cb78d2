// How far off things may be in a setup, either way, as the person who sets it up declares.
#pragma once

#include "parser/base/geometry.h"

namespace proveout::job {

struct Errors {              // 0: not declared
  Vec3 zero = Vec3::Zero();  // mm, machine axes
  double pin_clearance = 0;  // mm, hole over pin, on diameter
  double pin_distance = 0;   // mm, from pin to pin; 0: the pins do not let the blank turn
  double squareness = 0;     // mm over 100 mm, by which x leans along y
  double thickness = 0;      // mm, of the blank
};

}  // namespace proveout::job
