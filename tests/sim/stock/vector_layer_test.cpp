// The vector layer, lane by lane: every operation of every instruction set this processor runs must
// be the one IEEE 754 operation on that lane, in plain C++ here, to the bit; numbers of all sizes,
// zeros of both signs, infinities and NaN among them. a > b ? a : b fixes what max does with the
// last three.
#if defined(__x86_64__)
#include <immintrin.h>
#elif defined(__ARM_NEON) && defined(__aarch64__)
#include <arm_neon.h>
#endif

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <functional>
#include <limits>
#include <random>
#include <vector>

// GCC warns of vectors handed to functions as on other processors; all of these are inlined.
#pragma GCC diagnostic ignored "-Wpsabi"

namespace base {
namespace {
#define PROVEOUT_REGISTER_LANES 4
#include "sim/stock/kernel_vector.h"
#include "tests/sim/stock/vector_operations.h"
#undef PROVEOUT_REGISTER_LANES
#undef PROVEOUT_INLINE
#undef PROVEOUT_INNER
}  // namespace
}  // namespace base

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define PROVEOUT_TEST_WIDE 1
#pragma GCC push_options
#pragma GCC target("avx2")
namespace avx2 {
namespace {
#define PROVEOUT_REGISTER_LANES 8
#include "sim/stock/kernel_vector.h"
#include "tests/sim/stock/vector_operations.h"
#undef PROVEOUT_REGISTER_LANES
#undef PROVEOUT_INLINE
#undef PROVEOUT_INNER
}  // namespace
}  // namespace avx2
#pragma GCC pop_options
#pragma GCC push_options
#pragma GCC target("avx512f,avx512vl,avx512dq,avx512bw,avx2")
namespace avx512 {
namespace {
#define PROVEOUT_REGISTER_LANES 16
#include "sim/stock/kernel_vector.h"
#include "tests/sim/stock/vector_operations.h"
#undef PROVEOUT_REGISTER_LANES
#undef PROVEOUT_INLINE
#undef PROVEOUT_INNER
}  // namespace
}  // namespace avx512
#pragma GCC pop_options
#endif

namespace proveout::stock {
namespace {

constexpr int lanes = 16, rows = base::operation_rows;
using Floats = std::array<float, lanes>;
using Ints = std::array<std::int32_t, lanes>;
using Rows = std::array<std::uint32_t, lanes * rows>;

float larger(float a, float b) { return a > b ? a : b; }
float smaller(float a, float b) { return a < b ? a : b; }

std::int32_t greater_halves(std::int32_t a, std::int32_t b) {
  const auto x = static_cast<std::uint32_t>(a), y = static_cast<std::uint32_t>(b);
  return static_cast<std::int32_t>(std::max(x >> 16, y >> 16) << 16 |
                                   std::max(x & 0xFFFFu, y & 0xFFFFu));
}

// The same in plain C++.
Rows by_lane(const Floats& x, const Floats& y, const Ints& n) {
  Rows out{};
  const auto held = [](float a) { return smaller(larger(a, -1e6f), 1e6f); };
  float least = held(x[0]);
  for (const float a : x) least = smaller(held(a), least);
  for (int k = 0; k < lanes; ++k) {
    int row = 0;
    const auto put = [&](auto v) {
      if constexpr (sizeof v == 4)
        std::memcpy(&out[lanes * row++ + k], &v, 4);
      else
        out[lanes * row++ + k] = v ? 1 : 0;
    };
    const float a = x[k], b = y[k];
    const float size = larger(a, -a);
    for (const float f :
         {a + b, a - b, a * b, a / b, -a, larger(a, b), smaller(a, b), size, std::sqrt(size),
          smaller(larger(a, -2.f), 3.f), a < b ? a : b, 2.f - a, x[0]})
      put(f);
    for (const bool t : {a<b, a <= b, a> b, a >= b, a == b, a != b, a < b && a != b,
                         a < b || a == b, !(a < b), n[k] == n[1], n[k] != n[1]})
      put(t);
    for (const std::int32_t i :
         {n[k] + 5, n[k] - 7, a < b ? n[k] : 0, a < b ? n[k] : -1,
          greater_halves(n[k], n[k] - 70000), static_cast<std::int32_t>(held(a))})
      put(i);
    put(std::trunc(held(a)) + static_cast<float>(n[k]) + least + held(x[3]));
  }
  return out;
}

// NaN as one: which of several is no part of IEEE 754.
std::uint32_t settled(std::uint32_t bits, int row) {
  const bool is_float = row < 13 || row == rows - 1;
  return is_float && std::isnan(std::bit_cast<float>(bits)) ? 0x7FC00000u : bits;
}

using Operations = void (*)(const float*, const float*, const std::int32_t*, std::uint32_t*);

void expect_as_by_lane(const char* set, Operations operations) {
  std::mt19937 random(41);
  const float most = std::numeric_limits<float>::max(), none = std::nanf("");
  const float special[] = {0.f,     -0.f, 1.f,  -1.f,     most,      -most, 1e-42f,
                           -1e-42f, 3.f,  -2.f, INFINITY, -INFINITY, none};
  std::uniform_real_distribution<float> exponent(-30, 30), sign(-1, 1);
  for (int round = 0; round < 2000; ++round) {
    Floats x, y;
    Ints n;
    const auto any = [&] {
      if (random() % 4 == 0) return special[random() % std::size(special)];
      return std::copysign(std::exp2(exponent(random)), sign(random));
    };
    for (int k = 0; k < lanes; ++k) {
      x[k] = any();
      y[k] = random() % 5 == 0 ? x[k] : any();
      n[k] = static_cast<std::int32_t>(random() % 2000) - 1000;
    }
    Rows got{};
    operations(x.data(), y.data(), n.data(), got.data());
    const Rows want = by_lane(x, y, n);
    for (int i = 0; i < lanes * rows; ++i) {
      const int row = i / lanes;
      ASSERT_EQ(settled(got[i], row), settled(want[i], row))
          << set << ", operation " << row << ", lane " << i % lanes << ", seed 41, round " << round
          << ", a " << x[i % lanes] << ", b " << y[i % lanes];
    }
  }
}

TEST(VectorLayer, EveryOperationIsThatOfItsLane) {
  expect_as_by_lane("base", base::all_operations);
#ifdef PROVEOUT_TEST_WIDE
  if (__builtin_cpu_supports("avx2")) expect_as_by_lane("avx2", avx2::all_operations);
  if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
      __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512bw"))
    expect_as_by_lane("avx512", avx512::all_operations);
#endif
}

}  // namespace
}  // namespace proveout::stock
