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

// Truth of sixteen comparisons, and whole numbers: all bits set where true.
struct M {
  I part[parts];
};
struct V {
  F part[parts];
};

PROVEOUT_INLINE V splat(float a) {
  V v;
  for (F& f : v.part) f = F{} + a;
  return v;
}
PROVEOUT_INLINE M numbers(std::int32_t a) {
  M m;
  for (I& i : m.part) i = I{} + a;
  return m;
}
PROVEOUT_INLINE V zero() { return splat(0.f); }

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
#define PROVEOUT_COMPARISON(op)                                         \
  PROVEOUT_BINARY(V, M, op)                                             \
  PROVEOUT_INLINE M operator op(V a, float b) { return a op splat(b); } \
  PROVEOUT_INLINE M operator op(float a, V b) { return splat(a) op b; }

PROVEOUT_ARITHMETIC(+)
PROVEOUT_ARITHMETIC(-)
PROVEOUT_ARITHMETIC(*)
PROVEOUT_ARITHMETIC(/)
PROVEOUT_COMPARISON(<)
PROVEOUT_COMPARISON(<=)
PROVEOUT_COMPARISON(>)
PROVEOUT_COMPARISON(>=)
PROVEOUT_COMPARISON(!=)
PROVEOUT_COMPARISON(==)
PROVEOUT_BINARY(M, M, &)
PROVEOUT_BINARY(M, M, |)
PROVEOUT_BINARY(M, M, ^)
PROVEOUT_BINARY(M, M, +)
PROVEOUT_BINARY(M, M, -)
PROVEOUT_BINARY(M, M, !=)
PROVEOUT_BINARY(M, M, ==)

PROVEOUT_INLINE V operator-(V a) {
  V r;
  for (int i = 0; i < parts; ++i) r.part[i] = -a.part[i];
  return r;
}
PROVEOUT_INLINE V pick(M mask, V a, V b) {
  V r;
  for (int i = 0; i < parts; ++i) r.part[i] = mask.part[i] ? a.part[i] : b.part[i];
  return r;
}
PROVEOUT_INLINE M pick(M mask, M a, M b) {
  M r;
  for (int i = 0; i < parts; ++i) r.part[i] = mask.part[i] ? a.part[i] : b.part[i];
  return r;
}
PROVEOUT_INLINE V greater(V a, V b) { return pick(a > b, a, b); }
PROVEOUT_INLINE V lesser(V a, V b) { return pick(a < b, a, b); }
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
PROVEOUT_INLINE std::uint32_t bits(M mask) {
  std::uint32_t all = 0;
  for (int p = 0; p < parts; ++p) {
    std::uint32_t some = 0;
#if PROVEOUT_REGISTER_LANES == 16
    some = _mm512_movepi32_mask((__m512i)mask.part[p]);
#elif PROVEOUT_REGISTER_LANES == 8
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
}

PROVEOUT_INLINE float lane_of(V a, int lane) {
  float f[lanes];
  save(f, a);
  return f[lane];
}

PROVEOUT_INLINE float least_of(V a) {
  float f[lanes];
  save(f, a);
  for (int step = lanes / 2; step > 0; step /= 2) {
    for (int i = 0; i < step; ++i) f[i] = f[i] < f[i + step] ? f[i] : f[i + step];
  }
  return f[0];
}
