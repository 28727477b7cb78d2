// The compiled twins of the kernels; kernels() picks one.
#pragma once

#include "sim/stock/kernel.h"

namespace proveout::stock {

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define PROVEOUT_WIDE_KERNELS 1
const Kernels& avx2_kernels();
const Kernels& avx512_kernels();
#endif

}  // namespace proveout::stock
