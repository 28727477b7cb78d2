// The shift that lays one side's walls best on the part: how far off that side was cut.
#pragma once

#include <span>

#include "sim/measure/surface_samples.h"
#include "sim/solid/part_distance.h"

namespace proveout::flip {

// Where the side lies against the part, along the setup's machine axes: x, y (mm), turn (degrees,
// right-handed about z, about the middle of the walls used). Moving the side's surface back by it
// lays it on the part.
struct BestFit {
  bool found = false;  // enough wall near the part
  double x = 0, y = 0, turn_deg = 0;
  double left = 0;  // mm, root mean square of what remains, over the walls that count
  std::size_t samples = 0;
};

// samples: the side's surface, stock coordinates; only its walls are used, those outside `left_out`
// (stock coordinates) and within reach (mm) of the part. Linearised least squares, thrice, with
// Tukey's biweight on the residuals (Beaton and Tukey, "The fitting of power series", Technometrics
// 16 (1974) 147-185; constant 4.685, scale from the median) after a start by the least sum of
// sizes, which half the walls may contradict: a slot's far wall does not count, a shifted wall
// does.
BestFit best_fit(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                 const RigidMotion& stock_from_setup, std::span<const Box3> left_out,
                 double reach = 1.0);

}  // namespace proveout::flip
