// The kernels for: base.
#if defined(__x86_64__) || defined(__SSE2__)
#include <immintrin.h>
#endif

#include <algorithm>
#include <new>
#include <type_traits>

#include "sim/stock/kernel_sets.h"

#define PROVEOUT_REGISTER_LANES 4

namespace proveout::stock {
namespace {
namespace base {
#include "sim/stock/kernel_body.h"
}  // namespace base
}  // namespace

const Kernels& base_kernels() {
  static const Kernels set{base::points_any,
                           base::candidates_any,
                           base::evaluate_any,
                           base::account_any,
                           base::account_chain_any,
                           base::write_any,
                           base::touches_any,
                           base::slopes_any,
                           base::chain_any,
                           base::first_any,
                           base::write_chain_any,
                           base::bound_any,
                           "base"};
  return set;
}

}  // namespace proveout::stock
