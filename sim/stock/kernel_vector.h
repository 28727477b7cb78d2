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
typedef float FloatRegister __attribute__((vector_size(4 * register_lanes)));
typedef std::int32_t IntRegister __attribute__((vector_size(4 * register_lanes)));

// Whole numbers; as a mask all bits set where true.
struct Ints {
  IntRegister part[parts];
};
struct Floats {
  FloatRegister part[parts];
};

PROVEOUT_INLINE Floats splat(float a) {
  Floats v;
  for (FloatRegister& f : v.part) {
#if PROVEOUT_REGISTER_LANES == 16
    f = (FloatRegister)_mm512_set1_ps(a);
#elif PROVEOUT_REGISTER_LANES == 8
    f = (FloatRegister)_mm256_set1_ps(a);
#elif defined(__SSE2__)
    f = (FloatRegister)_mm_set1_ps(a);
#else
    for (int i = 0; i < register_lanes; ++i) f[i] = a;
#endif
  }
  return v;
}
PROVEOUT_INLINE Ints splat_int(std::int32_t a) {
  Ints m;
  for (IntRegister& i : m.part) i = IntRegister{} + a;
  return m;
}
PROVEOUT_INLINE Floats zero() { return splat(0.f); }

// Outcome of sixteen comparisons: registers that wide have one of their own for it.
#if PROVEOUT_REGISTER_LANES == 16
struct Mask {
  __mmask16 set;
  PROVEOUT_INNER operator Ints() const { return {{(IntRegister)_mm512_movm_epi32(set)}}; }
};
PROVEOUT_INLINE Mask operator&(Mask a, Mask b) { return {static_cast<__mmask16>(a.set & b.set)}; }
PROVEOUT_INLINE Mask operator|(Mask a, Mask b) { return {static_cast<__mmask16>(a.set | b.set)}; }
PROVEOUT_INLINE Mask operator^(Mask a, Mask b) { return {static_cast<__mmask16>(a.set ^ b.set)}; }
PROVEOUT_INLINE Mask mask_of(bool all) { return {static_cast<__mmask16>(all ? 0xFFFF : 0)}; }
#else
using Mask = Ints;
PROVEOUT_INLINE Mask mask_of(bool all) { return splat_int(all ? -1 : 0); }
#endif

#define PROVEOUT_BINARY(type, result, op)                               \
  PROVEOUT_INLINE result operator op(type a, type b) {                  \
    result r;                                                           \
    for (int i = 0; i < parts; ++i) r.part[i] = a.part[i] op b.part[i]; \
    return r;                                                           \
  }
#define PROVEOUT_ARITHMETIC(op)                                                   \
  PROVEOUT_BINARY(Floats, Floats, op)                                             \
  PROVEOUT_INLINE Floats operator op(Floats a, float b) { return a op splat(b); } \
  PROVEOUT_INLINE Floats operator op(float a, Floats b) { return splat(a) op b; }
#if PROVEOUT_REGISTER_LANES == 16
#define PROVEOUT_COMPARE(op, predicate)                                           \
  PROVEOUT_INLINE Mask operator op(Floats a, Floats b) {                          \
    return {_mm512_cmp_ps_mask((__m512)a.part[0], (__m512)b.part[0], predicate)}; \
  }
#else
#define PROVEOUT_COMPARE(op, predicate) PROVEOUT_BINARY(Floats, Mask, op)
#endif
#define PROVEOUT_COMPARISON(op, predicate)                                      \
  PROVEOUT_COMPARE(op, predicate)                                               \
  PROVEOUT_INLINE Mask operator op(Floats a, float b) { return a op splat(b); } \
  PROVEOUT_INLINE Mask operator op(float a, Floats b) { return splat(a) op b; }

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
PROVEOUT_BINARY(Ints, Ints, &)
PROVEOUT_BINARY(Ints, Ints, |)
PROVEOUT_BINARY(Ints, Ints, ^)
PROVEOUT_BINARY(Ints, Ints, +)
PROVEOUT_BINARY(Ints, Ints, -)
#if PROVEOUT_REGISTER_LANES == 16
PROVEOUT_INLINE Mask operator!=(Ints a, Ints b) {
  return {_mm512_cmpneq_epi32_mask((__m512i)a.part[0], (__m512i)b.part[0])};
}
PROVEOUT_INLINE Mask operator==(Ints a, Ints b) {
  return {_mm512_cmpeq_epi32_mask((__m512i)a.part[0], (__m512i)b.part[0])};
}
#else
PROVEOUT_BINARY(Ints, Mask, !=)
PROVEOUT_BINARY(Ints, Mask, ==)
#endif

PROVEOUT_INLINE Floats operator-(Floats a) {
  Floats r;
  for (int i = 0; i < parts; ++i) r.part[i] = -a.part[i];
  return r;
}
PROVEOUT_INLINE Floats select(Mask mask, Floats a, Floats b) {
#if PROVEOUT_REGISTER_LANES == 16
  return {{(FloatRegister)_mm512_mask_blend_ps(mask.set, (__m512)b.part[0], (__m512)a.part[0])}};
#else
  Floats r;
  for (int i = 0; i < parts; ++i) r.part[i] = mask.part[i] ? a.part[i] : b.part[i];
  return r;
#endif
}
PROVEOUT_INLINE Ints select(Mask mask, Ints a, Ints b) {
#if PROVEOUT_REGISTER_LANES == 16
  return {{(IntRegister)_mm512_mask_blend_epi32(mask.set, (__m512i)b.part[0], (__m512i)a.part[0])}};
#else
  Ints r;
  for (int i = 0; i < parts; ++i) r.part[i] = mask.part[i] ? a.part[i] : b.part[i];
  return r;
#endif
}

// a > b ? a : b and a < b ? a : b: to the bit what the processors' own instructions do, but GCC 12
// makes a comparison and a choice of them.
#if PROVEOUT_REGISTER_LANES == 16
#define PROVEOUT_EXTREME(name, instruction, op)                                   \
  PROVEOUT_INLINE Floats name(Floats a, Floats b) {                               \
    return {{(FloatRegister)_mm512_maskz_##instruction(0xFFFF, (__m512)a.part[0], \
                                                       (__m512)b.part[0])}};      \
  }
#elif PROVEOUT_REGISTER_LANES == 8
#define PROVEOUT_EXTREME(name, instruction, op)                                              \
  PROVEOUT_INLINE Floats name(Floats a, Floats b) {                                          \
    for (int i = 0; i < parts; ++i)                                                          \
      a.part[i] = (FloatRegister)_mm256_##instruction((__m256)a.part[i], (__m256)b.part[i]); \
    return a;                                                                                \
  }
#elif defined(__SSE2__)
#define PROVEOUT_EXTREME(name, instruction, op)                                           \
  PROVEOUT_INLINE Floats name(Floats a, Floats b) {                                       \
    for (int i = 0; i < parts; ++i)                                                       \
      a.part[i] = (FloatRegister)_mm_##instruction((__m128)a.part[i], (__m128)b.part[i]); \
    return a;                                                                             \
  }
#else
#define PROVEOUT_EXTREME(name, instruction, op) \
  PROVEOUT_INLINE Floats name(Floats a, Floats b) { return select(a op b, a, b); }
#endif
PROVEOUT_EXTREME(max, max_ps, >)
PROVEOUT_EXTREME(min, min_ps, <)
PROVEOUT_INLINE Floats max(Floats a, float b) { return max(a, splat(b)); }
PROVEOUT_INLINE Floats min(Floats a, float b) { return min(a, splat(b)); }
PROVEOUT_INLINE Floats abs(Floats a) { return max(a, -a); }
PROVEOUT_INLINE Floats clamp(Floats a, float low, float high) { return min(max(a, low), high); }
PROVEOUT_INLINE Ints to_ints(Floats a) {
  Ints r;
  for (int i = 0; i < parts; ++i) r.part[i] = __builtin_convertvector(a.part[i], IntRegister);
  return r;
}

PROVEOUT_INLINE Floats to_floats(Ints a) {
  Floats r;
  for (int i = 0; i < parts; ++i) r.part[i] = __builtin_convertvector(a.part[i], FloatRegister);
  return r;
}

template <class T>
PROVEOUT_INLINE T load_as(const void* from) {
  T v;
  __builtin_memcpy(&v, from, sizeof v);
  return v;
}
PROVEOUT_INLINE Floats load(const float* from) { return load_as<Floats>(from); }
PROVEOUT_INLINE Ints load_ints(const std::int32_t* from) { return load_as<Ints>(from); }
PROVEOUT_INLINE void store(float* to, Floats v) { __builtin_memcpy(to, &v, sizeof v); }
PROVEOUT_INLINE void store(std::int32_t* to, Ints v) { __builtin_memcpy(to, &v, sizeof v); }

// Rounded exactly, like every operation here: the same bits on every instruction set.
PROVEOUT_INLINE Floats sqrt(Floats a) {
  for (FloatRegister& f : a.part) {
#if PROVEOUT_REGISTER_LANES == 16
    // Not _mm512_sqrt_ps: GCC 12 warns of the undefined register inside it.
    f = (FloatRegister)_mm512_maskz_sqrt_ps(0xFFFF, (__m512)f);
#elif PROVEOUT_REGISTER_LANES == 8
    f = (FloatRegister)_mm256_sqrt_ps((__m256)f);
#elif defined(__SSE2__)
    f = (FloatRegister)_mm_sqrt_ps((__m128)f);
#else
    for (int i = 0; i < register_lanes; ++i) f[i] = __builtin_sqrtf(f[i]);
#endif
  }
  return a;
}

// One bit a lane.
PROVEOUT_INLINE std::uint32_t bits(Mask mask) {
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

PROVEOUT_INLINE float lane_of(Floats a, int lane) {
  float f[lanes];
  store(f, a);
  return f[lane];
}

PROVEOUT_INLINE float least_of(Floats a) {
#if PROVEOUT_REGISTER_LANES == 16
  __m512 m = (__m512)a.part[0];
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_shuffle_f32x4(0xFFFF, m, m, 0x4E));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_shuffle_f32x4(0xFFFF, m, m, 0xB1));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_permute_ps(0xFFFF, m, 0x4E));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_permute_ps(0xFFFF, m, 0xB1));
  return ((FloatRegister)m)[0];
#elif PROVEOUT_REGISTER_LANES == 8
  __m256 m = _mm256_min_ps((__m256)a.part[0], (__m256)a.part[1]);
  m = _mm256_min_ps(m, _mm256_permute2f128_ps(m, m, 1));
  m = _mm256_min_ps(m, _mm256_permute_ps(m, 0x4E));
  return ((FloatRegister)_mm256_min_ps(m, _mm256_permute_ps(m, 0xB1)))[0];
#elif defined(__SSE2__)
  __m128 m = _mm_min_ps(_mm_min_ps((__m128)a.part[0], (__m128)a.part[2]),
                        _mm_min_ps((__m128)a.part[1], (__m128)a.part[3]));
  m = _mm_min_ps(m, _mm_shuffle_ps(m, m, 0x4E));
  return ((FloatRegister)_mm_min_ps(m, _mm_shuffle_ps(m, m, 0xB1)))[0];
#else
  float f[lanes];
  store(f, a);
  for (int step = lanes / 2; step > 0; step /= 2) {
    for (int i = 0; i < step; ++i) f[i] = f[i] < f[i + step] ? f[i] : f[i + step];
  }
  return f[0];
#endif
}
