// The kernels for what every processor of the kind has: SSE2 on x86-64, NEON on arm64, the 128-bit
// instructions of WebAssembly where asked for, else what the compiler makes of it.
#if defined(__SSE2__)
#include <immintrin.h>
#elif defined(__wasm_simd128__)
#include <wasm_simd128.h>
#elif defined(__ARM_NEON) && defined(__aarch64__)
#include <arm_neon.h>
#endif

#include <algorithm>
#include <new>
#include <type_traits>

#include "sim/stock/kernel_sets.h"
#include "sim/stock/profile_pieces.h"

#define PROVEOUT_REGISTER_LANES 4

namespace proveout::stock {
namespace {
namespace base {
#include "sim/stock/kernel_body.h"
}  // namespace base
}  // namespace

const Kernels& base_kernels() {
  static const Kernels set = base::kernels_named("base");
  return set;
}

}  // namespace proveout::stock
