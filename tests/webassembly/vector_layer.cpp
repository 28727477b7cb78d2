// The vector layer built for WebAssembly's 128-bit instructions, to be called by vector_layer.mjs.
#include <stdint.h>
#include <wasm_simd128.h>

// There is no C++ library for this target here; these are all the layer asks of one.
namespace std {
using int32_t = ::int32_t;
using uint32_t = ::uint32_t;
}  // namespace std

#define PROVEOUT_REGISTER_LANES 4
namespace base {
#include "sim/stock/kernel_vector.h"
#include "tests/sim/stock/vector_operations.h"
}  // namespace base

namespace {
float x[base::lanes], y[base::lanes];
int32_t n[base::lanes];
uint32_t results[base::lanes * base::operation_rows];
}  // namespace

extern "C" {
__attribute__((export_name("x"))) float* place_of_x() { return x; }
__attribute__((export_name("y"))) float* place_of_y() { return y; }
__attribute__((export_name("n"))) int32_t* place_of_n() { return n; }
__attribute__((export_name("results"))) uint32_t* place_of_results() { return results; }
__attribute__((export_name("run"))) void run() { base::all_operations(x, y, n, results); }

void* memcpy(void* to, const void* from, unsigned long count) {
  for (unsigned long i = 0; i < count; ++i)
    static_cast<char*>(to)[i] = static_cast<const char*>(from)[i];
  return to;
}
}
