// Plain decimal numbers, as nearly all of posted code has them.
#pragma once

#include <cstdint>

namespace proveout::nc {

// Reads [+-]digits[.digits] at `at`, before `end`. Exact: up to 15 digits over a power of ten are
// two exact doubles, so the one division rounds once, as IEEE 754 asks of a conversion. Returns
// where the number ends; nullptr where there are no digits or more than 15, which the full reader
// takes. whole_digits: how many digits stand before the point; pointed: whether there is a point.
inline const char* read_decimal(const char* at, const char* end, double& value, int& whole_digits,
                                bool& pointed) {
  static constexpr double powers[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                      1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  bool negative = false;
  if (at < end && (*at == '-' || *at == '+')) negative = *at++ == '-';
  std::uint64_t mantissa = 0;
  const char* const first = at;
  unsigned digit = 0;
  while (at < end && (digit = static_cast<unsigned char>(*at) - unsigned{'0'}) <= 9) {
    mantissa = mantissa * 10 + digit;
    ++at;
  }
  whole_digits = static_cast<int>(at - first < 16 ? at - first : 16);
  int decimals = 0;
  pointed = at < end && *at == '.';
  if (pointed) {
    const char* const point = ++at;
    while (at < end && (digit = static_cast<unsigned char>(*at) - unsigned{'0'}) <= 9) {
      mantissa = mantissa * 10 + digit;
      ++at;
    }
    decimals = static_cast<int>(at - point < 16 ? at - point : 16);
  }
  if (whole_digits + decimals == 0 || whole_digits + decimals > 15) return nullptr;
  value = static_cast<double>(mantissa) / powers[decimals];
  if (negative) value = -value;
  return at;
}

}  // namespace proveout::nc
