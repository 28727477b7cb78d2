#include "sim/stock/kernel.h"

#include <cstdlib>
#include <string_view>

#include "sim/stock/kernel_sets.h"

namespace proveout::stock {
namespace {

const Kernels& pick() {
#ifdef PROVEOUT_WIDE_KERNELS
  const char* word = std::getenv("PROVEOUT_INSTRUCTIONS");
  const std::string_view wanted = word == nullptr ? "" : word;
  if (wanted != "base" && wanted != "avx2" && __builtin_cpu_supports("avx512f") &&
      __builtin_cpu_supports("avx512vl") && __builtin_cpu_supports("avx512dq") &&
      __builtin_cpu_supports("avx512bw")) {
    return avx512_kernels();
  }
  if (wanted != "base" && __builtin_cpu_supports("avx2")) return avx2_kernels();
#endif
  return base_kernels();
}

}  // namespace

const Kernels& kernels() {
  static const Kernels& picked = pick();
  return picked;
}

}  // namespace proveout::stock
