// Length of a vector in the plane, in single precision.
#pragma once

#include <cmath>

namespace proveout::stock {

// Length of (x, y), in their unit; no overflow below 1e19. In place of std::hypot, which C
// libraries round differently for floats: the squares of floats are exact in a double (2 x 24 bits
// of 53), so IEEE 754's sum, root and conversion leave one value, on any computer. It is that of
// glibc from 2.35 on. A drill's touches at the bounds of its columns turn on the last digit.
inline float planar_length(float x, float y) {
  return static_cast<float>(std::sqrt(static_cast<double>(x) * x + static_cast<double>(y) * y));
}

}  // namespace proveout::stock
