// The kernels for: avx512.
#if defined(__x86_64__)
#include <immintrin.h>
#endif

#include <algorithm>
#include <new>
#include <type_traits>

#include "sim/stock/kernel_sets.h"
#include "sim/stock/profile_pieces.h"

#define PROVEOUT_REGISTER_LANES 16

namespace proveout::stock {
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#pragma GCC push_options
#pragma GCC target("avx512f,avx512vl,avx512dq,avx512bw,avx2,prefer-vector-width=512")
namespace {
namespace avx512 {
#include "sim/stock/kernel_body.h"
}  // namespace avx512
}  // namespace
#pragma GCC pop_options

const Kernels& avx512_kernels() {
  static const Kernels set = avx512::kernels_named("avx512");
  return set;
}
#endif

}  // namespace proveout::stock
