// The kernels for: avx2.
#include "sim/stock/kernel_sets.h"

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
  static const Kernels set{avx2::columns_any, avx2::points_any, "avx2"};
  return set;
}
#endif

}  // namespace proveout::stock
