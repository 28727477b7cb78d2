// Invariants of the code itself: what no input, however bad, may make untrue. Input is judged by
// Diagnostics, never by these.
//
//   PROVEOUT_ASSERT(i < edges.size(), i, edges.size());
//
// With the CMake option PROVEOUT_ASSERT (the scripts for tests and the demo turn it on, and every
// build with sanitizers) a condition that does not hold prints itself, the values after it and its
// place, and aborts: the one thing in the libraries that may. Without the option nothing is
// evaluated; names are still looked up, so an assertion cannot rot. Per block or cell, not per
// voxel: the kernels' inner loops hold none.
#pragma once

#include <string>
#include <type_traits>

namespace proveout::internal {

[[noreturn]] void assertion_failed(const char* condition, const char* values_text,
                                   const std::string& values, const char* file, int line);

template <class Value>
std::string as_text(const Value& value) {
  if constexpr (std::is_enum_v<Value>) {
    return std::to_string(static_cast<std::underlying_type_t<Value>>(value));
  } else if constexpr (std::is_arithmetic_v<Value>) {
    return std::to_string(value);
  } else {
    return std::string(value);
  }
}
inline std::string all_as_text() { return {}; }
template <class First, class... Rest>
std::string all_as_text(const First& first, const Rest&... rest) {
  std::string text = as_text(first);
  ((text += ", " + as_text(rest)), ...);
  return text;
}

}  // namespace proveout::internal

#if PROVEOUT_ASSERTIONS
#define PROVEOUT_ASSERT(condition, ...)                                                        \
  ((condition) ? static_cast<void>(0)                                                          \
               : ::proveout::internal::assertion_failed(                                       \
                     #condition, #__VA_ARGS__, ::proveout::internal::all_as_text(__VA_ARGS__), \
                     __FILE__, __LINE__))
#else
#define PROVEOUT_ASSERT(condition, ...)           \
  static_cast<void>(sizeof((condition) ? 1 : 0) + \
                    sizeof(::proveout::internal::all_as_text(__VA_ARGS__)))
#endif
