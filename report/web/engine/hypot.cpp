// In place of the C library's: the bits that the native program's library gives (glibc from 2.35
// on). The one that comes with the WebAssembly compiler differs in the last digit for one pair in
// eleven, and a comparison that turns on that digit does not stay in the last digit.
#include <cmath>
#include <utility>

namespace {

// Root of x x + y y, x >= y >= 0, with one correction: Borges, "An improved algorithm for
// hypot(a, b)", 2019, unfused form.
double corrected(double x, double y) {
  const double h = std::sqrt(x * x + y * y);
  double miss;
  if (h <= 2 * y) {
    const double d = h - y;
    miss = x * (2 * d - x) + (d - 2 * (x - y)) * d;
  } else {
    const double d = h - x;
    miss = 2 * d * (x - 2 * y) + ((4 * d - y) * y + d * d);
  }
  return h - miss / (2 * h);
}

}  // namespace

extern "C" {

double hypot(double x, double y) {
  if (std::isinf(x) || std::isinf(y)) return HUGE_VAL;  // whatever the other is: C, Annex F
  x = std::fabs(x);
  y = std::fabs(y);
  if (x < y) std::swap(x, y);
  if (y * 0x1p54 <= x) return x + y;
  // Squares must neither overflow nor lose digits below the least number.
  if (x > 0x1p511) return corrected(x * 0x1p-600, y * 0x1p-600) * 0x1p600;
  if (y < 0x1p-459) return corrected(x * 0x1p600, y * 0x1p600) * 0x1p-600;
  return corrected(x, y);
}

// The squares are exact in a double.
float hypotf(float x, float y) {
  if (std::isinf(x) || std::isinf(y)) return HUGE_VALF;
  return static_cast<float>(std::sqrt(static_cast<double>(x) * x + static_cast<double>(y) * y));
}
}
