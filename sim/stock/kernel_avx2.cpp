// The kernels for: avx2.
#if defined(__x86_64__)
#include <immintrin.h>
#endif

#include <algorithm>
#include <new>
#include <type_traits>

#include "sim/stock/kernel_sets.h"
#include "sim/stock/profile_pieces.h"

#define PROVEOUT_REGISTER_LANES 8

namespace proveout::stock {
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#pragma GCC push_options
#pragma GCC target("avx2")
namespace {
namespace avx2 {
#include "sim/stock/kernel_body.h"
}  // namespace avx2
}  // namespace
#pragma GCC pop_options

const Kernels& avx2_kernels() {
  static const Kernels set = avx2::kernels_named("avx2");
  return set;
}
#endif

}  // namespace proveout::stock
