// The kernels for: avx512.
#include "sim/stock/kernel_sets.h"

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
  static const Kernels set{avx512::columns_any, avx512::points_any, "avx512"};
  return set;
}
#endif

}  // namespace proveout::stock
