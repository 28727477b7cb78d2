// Included before every source of the WebAssembly build: what clang 14's C++ library lacks of
// C++20. Read with a later library, it adds nothing.
#pragma once

#ifdef __cplusplus
#include <algorithm>
#include <charconv>
#include <version>

#if defined(_LIBCPP_VERSION) && _LIBCPP_VERSION < 15000
#include <fast_float/fast_float.h>

#include <cstring>
#include <functional>
#include <iterator>
#include <type_traits>

namespace std {

// The library of GCC 12 reads numbers by the same algorithm (Lemire, "Number parsing at a gigabyte
// per second", 2021), correctly rounded both. A number out of a double's range is told by GCC's and
// leaves the value as it was; fast_float 3.9 gives nought or infinity.
template <typename Number>
requires is_floating_point_v<Number> from_chars_result
from_chars(const char* first, const char* last, Number& value,
           chars_format format = chars_format::general) {
  Number read{};
  const auto done = fast_float::from_chars(
      first, last, read,
      static_cast<fast_float::chars_format>(format == chars_format::fixed ? 4 : 5));
  if (done.ec != errc()) return {done.ptr, done.ec};
  const bool named = [&] {  // inf, infinity, nan by name
    const char c = first == last ? '0' : *first == '-' ? first[1] : *first;
    return c == 'i' || c == 'I' || c == 'n' || c == 'N';
  }();
  const bool not_zero = [&] {  // a digit above nought before the exponent
    for (const char* c = first; c != done.ptr && *c != 'e' && *c != 'E'; ++c)
      if (*c >= '1' && *c <= '9') return true;
    return false;
  }();
  if (!named && ((read - read != 0) || (read == 0 && not_zero)))
    return {done.ptr, errc::result_out_of_range};
  value = read;
  return {done.ptr, errc()};
}

#ifndef __cpp_lib_bit_cast
template <typename To, typename From>
constexpr To bit_cast(const From& from) noexcept {
  return __builtin_bit_cast(To, from);
}
#endif

namespace ranges {
template <typename Range>
auto max_element(Range&& range) {
  return std::max_element(std::begin(range), std::end(range));
}
template <typename First, typename Second, typename Same>
bool equal(const First& first, const Second& second, Same same) {
  return std::equal(std::begin(first), std::end(first), std::begin(second), std::end(second), same);
}
template <typename Range, typename Test>
bool any_of(const Range& range, Test test) {
  return std::any_of(std::begin(range), std::end(range), test);
}
}  // namespace ranges
}  // namespace std
#endif
#endif
