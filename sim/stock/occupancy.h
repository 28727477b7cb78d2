// Share of a voxel that is material, from the distance at its centre.
//
// A step smeared by a window w: volume is the sum over voxels. Two things must hold for it to be
// right. Samples of w at any offset must add up to one (then flat faces carry no bias): a raised
// cosine of half width 1, 1.5, 2 ... voxels does that. And the window's second moment must vanish:
// otherwise a curved face or an edge is biased by moment x curvature (a bore by pi * moment *
// depth). One raised cosine has a positive moment, proportional to the square of its width, so 4/3
// of one of half width 1 less 1/3 of one of half width 2 has none. The share then dips below 0 and
// above 1 a little; sums are right.
#pragma once

#include <array>
#include <cmath>

#include "parser/base/geometry.h"

namespace proveout::stock {

class Occupancy {
 public:
  static constexpr double half_width_voxels = 2;

  explicit Occupancy(double voxel)
      : to_index_(static_cast<float>(steps / (2 * half_width_voxels * voxel))) {}

  // distance: mm, negative inside. Returns 1 deep inside, 0 far outside.
  float operator()(float distance) const {
    const float at = distance * to_index_ + 0.5f * steps;
    if (at <= 0) return 1;
    if (at >= steps) return 0;
    const int i = static_cast<int>(at);
    const float share = at - static_cast<float>(i);
    return table()[i] + share * (table()[i + 1] - table()[i]);
  }

 private:
  static constexpr int steps = 8192;
  static double smeared_step(double voxels, double half_width) {
    const double x = std::fmin(1.0, std::fmax(-1.0, voxels / half_width));
    return 0.5 * (1 - x - std::sin(pi * x) / pi);
  }
  static const std::array<float, steps + 1>& table() {
    static const std::array<float, steps + 1> values = [] {
      std::array<float, steps + 1> t{};
      for (int i = 0; i <= steps; ++i) {
        const double d = (2.0 * i / steps - 1) * half_width_voxels;
        t[i] = static_cast<float>((4 * smeared_step(d, 1) - smeared_step(d, 2)) / 3);
      }
      return t;
    }();
    return values;
  }
  float to_index_;
};

}  // namespace proveout::stock
