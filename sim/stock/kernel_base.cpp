// The kernels for: base.
#include "sim/stock/kernel_sets.h"

namespace proveout::stock {
namespace {
namespace base {
#include "sim/stock/kernel_body.h"
}  // namespace base
}  // namespace

const Kernels& base_kernels() {
  static const Kernels set{base::columns_any, base::points_any, "base"};
  return set;
}

}  // namespace proveout::stock
