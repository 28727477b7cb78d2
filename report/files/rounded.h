// Numbers as results have them.
#pragma once

#include <cmath>

namespace proveout::files {

// To the sixth decimal, so that printing it is stable and short: what one mathematical library
// gives in its last digits another does not. 0 for what is no number; no minus zero.
inline double rounded(double value) {
  if (!std::isfinite(value)) return 0;
  const double r = std::round(value * 1e6) / 1e6;
  return r == 0 ? 0 : r;
}

}  // namespace proveout::files
