// Distances from many points to a swept body, compiled for several instruction sets and chosen at run
// time. Every path does the same arithmetic in the same order, so the results are the same bits.
#pragma once

#include "sim/stock/sweep.h"

namespace proveout::stock {

struct Kernels {
  // Distance at columns (x[c], y[c]) and heights z[k]: out[k * columns + c]. columns: a multiple of 16,
  // at most 64. All mm, relative to the sweep's local origin; negative inside.
  void (*columns)(const LocalSweep& sweep, const float* x, const float* y, int columns,
                  const float* z, int planes, float* out);
  // Distance at points, out[i]. count: any.
  void (*points)(const LocalSweep& sweep, const float* x, const float* y, const float* z, int count,
                 float* out);
  const char* instruction_set;
};

// The widest this processor runs; PROVEOUT_INSTRUCTIONS=base|avx2|avx512 narrows it for tests.
const Kernels& kernels();
const Kernels& base_kernels();

}  // namespace proveout::stock
