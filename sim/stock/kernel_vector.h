// Sixteen floats at a time, for the kernels. Included by kernel_body.h inside a namespace of its
// own; the compiler splits the vectors to what the instruction set of that namespace has.

#define PROVEOUT_INLINE static inline __attribute__((always_inline))
#define PROVEOUT_INNER inline __attribute__((always_inline))

constexpr int lanes = 16;
constexpr std::uint32_t all_lanes = (1u << lanes) - 1;
// PROVEOUT_REGISTER_LANES comes from the including file: compilers differ in whether a target
// pragma changes the predefined macros (GCC 12 does not in C++).
constexpr int register_lanes = PROVEOUT_REGISTER_LANES;
constexpr int parts = lanes / register_lanes;

// A register's worth each.
typedef float F __attribute__((vector_size(4 * register_lanes)));
typedef std::int32_t I __attribute__((vector_size(4 * register_lanes)));

// Whole numbers; as truths all bits set where true.
struct M {
  I part[parts];
};
struct V {
  F part[parts];
};

PROVEOUT_INLINE V splat(float a) {
  V v;
  for (F& f : v.part) {
#if PROVEOUT_REGISTER_LANES == 16
    f = (F)_mm512_set1_ps(a);
#elif PROVEOUT_REGISTER_LANES == 8
    f = (F)_mm256_set1_ps(a);
#elif defined(__SSE2__)
    f = (F)_mm_set1_ps(a);
#else
    for (int i = 0; i < register_lanes; ++i) f[i] = a;
#endif
  }
  return v;
}
PROVEOUT_INLINE M numbers(std::int32_t a) {
  M m;
  for (I& i : m.part) i = I{} + a;
  return m;
}
PROVEOUT_INLINE V zero() { return splat(0.f); }

// Truth of sixteen comparisons: registers that wide have one of their own for it.
#if PROVEOUT_REGISTER_LANES == 16
struct K {
  __mmask16 set;
  PROVEOUT_INNER operator M() const { return {{(I)_mm512_movm_epi32(set)}}; }
};
PROVEOUT_INLINE K operator&(K a, K b) { return {static_cast<__mmask16>(a.set & b.set)}; }
PROVEOUT_INLINE K operator|(K a, K b) { return {static_cast<__mmask16>(a.set | b.set)}; }
PROVEOUT_INLINE K operator^(K a, K b) { return {static_cast<__mmask16>(a.set ^ b.set)}; }
PROVEOUT_INLINE K truths(bool all) { return {static_cast<__mmask16>(all ? 0xFFFF : 0)}; }
#else
using K = M;
PROVEOUT_INLINE K truths(bool all) { return numbers(all ? -1 : 0); }
#endif

#define PROVEOUT_BINARY(type, result, op)                               \
  PROVEOUT_INLINE result operator op(type a, type b) {                  \
    result r;                                                           \
    for (int i = 0; i < parts; ++i) r.part[i] = a.part[i] op b.part[i]; \
    return r;                                                           \
  }
#define PROVEOUT_ARITHMETIC(op)                                         \
  PROVEOUT_BINARY(V, V, op)                                             \
  PROVEOUT_INLINE V operator op(V a, float b) { return a op splat(b); } \
  PROVEOUT_INLINE V operator op(float a, V b) { return splat(a) op b; }
#if PROVEOUT_REGISTER_LANES == 16
#define PROVEOUT_TRUTH(op, predicate)                                             \
  PROVEOUT_INLINE K operator op(V a, V b) {                                       \
    return {_mm512_cmp_ps_mask((__m512)a.part[0], (__m512)b.part[0], predicate)}; \
  }
#else
#define PROVEOUT_TRUTH(op, predicate) PROVEOUT_BINARY(V, K, op)
#endif
#define PROVEOUT_COMPARISON(op, predicate)                              \
  PROVEOUT_TRUTH(op, predicate)                                         \
  PROVEOUT_INLINE K operator op(V a, float b) { return a op splat(b); } \
  PROVEOUT_INLINE K operator op(float a, V b) { return splat(a) op b; }

PROVEOUT_ARITHMETIC(+)
PROVEOUT_ARITHMETIC(-)
PROVEOUT_ARITHMETIC(*)
PROVEOUT_ARITHMETIC(/)
PROVEOUT_COMPARISON(<, _CMP_LT_OQ)
PROVEOUT_COMPARISON(<=, _CMP_LE_OQ)
PROVEOUT_COMPARISON(>, _CMP_GT_OQ)
PROVEOUT_COMPARISON(>=, _CMP_GE_OQ)
PROVEOUT_COMPARISON(!=, _CMP_NEQ_UQ)
PROVEOUT_COMPARISON(==, _CMP_EQ_OQ)
PROVEOUT_BINARY(M, M, &)
PROVEOUT_BINARY(M, M, |)
PROVEOUT_BINARY(M, M, ^)
PROVEOUT_BINARY(M, M, +)
PROVEOUT_BINARY(M, M, -)
#if PROVEOUT_REGISTER_LANES == 16
PROVEOUT_INLINE K operator!=(M a, M b) {
  return {_mm512_cmpneq_epi32_mask((__m512i)a.part[0], (__m512i)b.part[0])};
}
PROVEOUT_INLINE K operator==(M a, M b) {
  return {_mm512_cmpeq_epi32_mask((__m512i)a.part[0], (__m512i)b.part[0])};
}
#else
PROVEOUT_BINARY(M, K, !=)
PROVEOUT_BINARY(M, K, ==)
#endif

PROVEOUT_INLINE V operator-(V a) {
  V r;
  for (int i = 0; i < parts; ++i) r.part[i] = -a.part[i];
  return r;
}
PROVEOUT_INLINE V pick(K mask, V a, V b) {
#if PROVEOUT_REGISTER_LANES == 16
  return {{(F)_mm512_mask_blend_ps(mask.set, (__m512)b.part[0], (__m512)a.part[0])}};
#else
  V r;
  for (int i = 0; i < parts; ++i) r.part[i] = mask.part[i] ? a.part[i] : b.part[i];
  return r;
#endif
}
PROVEOUT_INLINE M pick(K mask, M a, M b) {
#if PROVEOUT_REGISTER_LANES == 16
  return {{(I)_mm512_mask_blend_epi32(mask.set, (__m512i)b.part[0], (__m512i)a.part[0])}};
#else
  M r;
  for (int i = 0; i < parts; ++i) r.part[i] = mask.part[i] ? a.part[i] : b.part[i];
  return r;
#endif
}

// a > b ? a : b and a < b ? a : b: to the bit what the processors' own instructions do, but GCC 12
// makes a comparison and a choice of them.
#if PROVEOUT_REGISTER_LANES == 16
#define PROVEOUT_EXTREME(name, instruction, op)                                             \
  PROVEOUT_INLINE V name(V a, V b) {                                                        \
    return {{(F)_mm512_maskz_##instruction(0xFFFF, (__m512)a.part[0], (__m512)b.part[0])}}; \
  }
#elif PROVEOUT_REGISTER_LANES == 8
#define PROVEOUT_EXTREME(name, instruction, op)                                  \
  PROVEOUT_INLINE V name(V a, V b) {                                             \
    for (int i = 0; i < parts; ++i)                                              \
      a.part[i] = (F)_mm256_##instruction((__m256)a.part[i], (__m256)b.part[i]); \
    return a;                                                                    \
  }
#elif defined(__SSE2__)
#define PROVEOUT_EXTREME(name, instruction, op)                               \
  PROVEOUT_INLINE V name(V a, V b) {                                          \
    for (int i = 0; i < parts; ++i)                                           \
      a.part[i] = (F)_mm_##instruction((__m128)a.part[i], (__m128)b.part[i]); \
    return a;                                                                 \
  }
#else
#define PROVEOUT_EXTREME(name, instruction, op) \
  PROVEOUT_INLINE V name(V a, V b) { return pick(a op b, a, b); }
#endif
PROVEOUT_EXTREME(greater, max_ps, >)
PROVEOUT_EXTREME(lesser, min_ps, <)
PROVEOUT_INLINE V greater(V a, float b) { return greater(a, splat(b)); }
PROVEOUT_INLINE V lesser(V a, float b) { return lesser(a, splat(b)); }
PROVEOUT_INLINE V size_of(V a) { return greater(a, -a); }
PROVEOUT_INLINE V within(V a, float low, float high) { return lesser(greater(a, low), high); }
PROVEOUT_INLINE M whole(V a) {
  M r;
  for (int i = 0; i < parts; ++i) r.part[i] = __builtin_convertvector(a.part[i], I);
  return r;
}

PROVEOUT_INLINE V as_floats(M a) {
  V r;
  for (int i = 0; i < parts; ++i) r.part[i] = __builtin_convertvector(a.part[i], F);
  return r;
}

template <class T>
PROVEOUT_INLINE T load_as(const void* from) {
  T v;
  __builtin_memcpy(&v, from, sizeof v);
  return v;
}
PROVEOUT_INLINE V load(const float* from) { return load_as<V>(from); }
PROVEOUT_INLINE void save(float* to, V v) { __builtin_memcpy(to, &v, sizeof v); }
PROVEOUT_INLINE void save(std::int32_t* to, M v) { __builtin_memcpy(to, &v, sizeof v); }

// Rounded exactly, like every operation here: the same bits on every instruction set.
PROVEOUT_INLINE V root(V a) {
  for (F& f : a.part) {
#if PROVEOUT_REGISTER_LANES == 16
    // Not _mm512_sqrt_ps: GCC 12 warns of the undefined register inside it.
    f = (F)_mm512_maskz_sqrt_ps(0xFFFF, (__m512)f);
#elif PROVEOUT_REGISTER_LANES == 8
    f = (F)_mm256_sqrt_ps((__m256)f);
#elif defined(__SSE2__)
    f = (F)_mm_sqrt_ps((__m128)f);
#else
    for (int i = 0; i < register_lanes; ++i) f[i] = __builtin_sqrtf(f[i]);
#endif
  }
  return a;
}

// One bit a lane.
PROVEOUT_INLINE std::uint32_t bits(K mask) {
#if PROVEOUT_REGISTER_LANES == 16
  return mask.set;
#else
  std::uint32_t all = 0;
  for (int p = 0; p < parts; ++p) {
    std::uint32_t some = 0;
#if PROVEOUT_REGISTER_LANES == 8
    some = static_cast<std::uint32_t>(_mm256_movemask_ps((__m256)mask.part[p]));
#elif defined(__SSE2__)
    some = static_cast<std::uint32_t>(_mm_movemask_ps((__m128)mask.part[p]));
#else
    for (int i = 0; i < register_lanes; ++i)
      some |= static_cast<std::uint32_t>(mask.part[p][i] & 1) << i;
#endif
    all |= some << (p * register_lanes);
  }
  return all;
#endif
}

PROVEOUT_INLINE float lane_of(V a, int lane) {
  float f[lanes];
  save(f, a);
  return f[lane];
}

PROVEOUT_INLINE float least_of(V a) {
#if PROVEOUT_REGISTER_LANES == 16
  __m512 m = (__m512)a.part[0];
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_shuffle_f32x4(0xFFFF, m, m, 0x4E));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_shuffle_f32x4(0xFFFF, m, m, 0xB1));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_permute_ps(0xFFFF, m, 0x4E));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_permute_ps(0xFFFF, m, 0xB1));
  return ((F)m)[0];
#elif PROVEOUT_REGISTER_LANES == 8
  __m256 m = _mm256_min_ps((__m256)a.part[0], (__m256)a.part[1]);
  m = _mm256_min_ps(m, _mm256_permute2f128_ps(m, m, 1));
  m = _mm256_min_ps(m, _mm256_permute_ps(m, 0x4E));
  return ((F)_mm256_min_ps(m, _mm256_permute_ps(m, 0xB1)))[0];
#elif defined(__SSE2__)
  __m128 m = _mm_min_ps(_mm_min_ps((__m128)a.part[0], (__m128)a.part[2]),
                        _mm_min_ps((__m128)a.part[1], (__m128)a.part[3]));
  m = _mm_min_ps(m, _mm_shuffle_ps(m, m, 0x4E));
  return ((F)_mm_min_ps(m, _mm_shuffle_ps(m, m, 0xB1)))[0];
#else
  float f[lanes];
  save(f, a);
  for (int step = lanes / 2; step > 0; step /= 2) {
    for (int i = 0; i < step; ++i) f[i] = f[i] < f[i + step] ? f[i] : f[i + step];
  }
  return f[0];
#endif
}
