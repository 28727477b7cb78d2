// Sixteen floats at a time, for the kernels: a few registers of the instruction set side by side,
// by the compiler's vector extensions. Included by kernel_body.h inside a namespace of its own.
//
// Each operation is one IEEE 754 operation a lane, rounded as the standard says, so every
// instruction set gives the same bits. What the extensions cannot say, or what compilers make
// several instructions of, stands once for each instruction set in the first half; the second half
// is the same for all.

#define PROVEOUT_INLINE static inline __attribute__((always_inline))
#define PROVEOUT_INNER inline __attribute__((always_inline))
// Of much text and called for much work: one copy, where inlining would make one at every call.
#define PROVEOUT_APART __attribute__((noinline))

constexpr int lanes = 16;
constexpr std::uint32_t all_lanes = (1u << lanes) - 1;
// PROVEOUT_REGISTER_LANES comes from the including file: compilers differ in whether a target
// pragma changes the predefined macros (GCC 12 does not in C++).
constexpr int register_lanes = PROVEOUT_REGISTER_LANES;
constexpr int parts = lanes / register_lanes;

typedef float FloatRegister __attribute__((vector_size(4 * register_lanes)));
typedef std::int32_t IntRegister __attribute__((vector_size(4 * register_lanes)));

// ---- one register
//
// larger is a > b ? a : b and smaller a < b ? a : b, to the bit: so the second where one is no
// number, and where both are zeros.

#if PROVEOUT_REGISTER_LANES == 16  // AVX-512: comparisons go into mask registers

typedef __mmask16 MaskRegister;
// Masked forms with all lanes on: GCC 12 warns of the undefined register inside the plain ones.
PROVEOUT_INLINE FloatRegister filled(float a) { return (FloatRegister)_mm512_set1_ps(a); }
PROVEOUT_INLINE FloatRegister larger(FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm512_maskz_max_ps(0xFFFF, (__m512)a, (__m512)b);
}
PROVEOUT_INLINE FloatRegister smaller(FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm512_maskz_min_ps(0xFFFF, (__m512)a, (__m512)b);
}
PROVEOUT_INLINE FloatRegister square_root(FloatRegister a) {
  return (FloatRegister)_mm512_maskz_sqrt_ps(0xFFFF, (__m512)a);
}
PROVEOUT_INLINE MaskRegister less(FloatRegister a, FloatRegister b) {
  return _mm512_cmp_ps_mask((__m512)a, (__m512)b, _CMP_LT_OQ);
}
PROVEOUT_INLINE MaskRegister less_or_equal(FloatRegister a, FloatRegister b) {
  return _mm512_cmp_ps_mask((__m512)a, (__m512)b, _CMP_LE_OQ);
}
PROVEOUT_INLINE MaskRegister equal(FloatRegister a, FloatRegister b) {
  return _mm512_cmp_ps_mask((__m512)a, (__m512)b, _CMP_EQ_OQ);
}
PROVEOUT_INLINE MaskRegister unequal(FloatRegister a, FloatRegister b) {
  return _mm512_cmp_ps_mask((__m512)a, (__m512)b, _CMP_NEQ_UQ);
}
PROVEOUT_INLINE MaskRegister equal(IntRegister a, IntRegister b) {
  return _mm512_cmpeq_epi32_mask((__m512i)a, (__m512i)b);
}
PROVEOUT_INLINE MaskRegister unequal(IntRegister a, IntRegister b) {
  return _mm512_cmpneq_epi32_mask((__m512i)a, (__m512i)b);
}
PROVEOUT_INLINE MaskRegister all_or_none(bool all) { return all ? 0xFFFF : 0; }
PROVEOUT_INLINE IntRegister full_lanes(MaskRegister m) { return (IntRegister)_mm512_movm_epi32(m); }
PROVEOUT_INLINE std::uint32_t lane_bits(MaskRegister m) { return m; }
PROVEOUT_INLINE FloatRegister chosen(MaskRegister m, FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm512_mask_blend_ps(m, (__m512)b, (__m512)a);
}
PROVEOUT_INLINE IntRegister chosen(MaskRegister m, IntRegister a, IntRegister b) {
  return (IntRegister)_mm512_mask_blend_epi32(m, (__m512i)b, (__m512i)a);
}
PROVEOUT_INLINE float least_lane(FloatRegister a) {
  __m512 m = (__m512)a;
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_shuffle_f32x4(0xFFFF, m, m, 0x4E));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_shuffle_f32x4(0xFFFF, m, m, 0xB1));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_permute_ps(0xFFFF, m, 0x4E));
  m = _mm512_maskz_min_ps(0xFFFF, m, _mm512_maskz_permute_ps(0xFFFF, m, 0xB1));
  return ((FloatRegister)m)[0];
}

#else  // the others: a comparison sets all bits of its lane

typedef IntRegister MaskRegister;
PROVEOUT_INLINE MaskRegister less(FloatRegister a, FloatRegister b) { return a < b; }
PROVEOUT_INLINE MaskRegister less_or_equal(FloatRegister a, FloatRegister b) { return a <= b; }
PROVEOUT_INLINE MaskRegister equal(FloatRegister a, FloatRegister b) { return a == b; }
PROVEOUT_INLINE MaskRegister unequal(FloatRegister a, FloatRegister b) { return a != b; }
PROVEOUT_INLINE MaskRegister equal(IntRegister a, IntRegister b) { return a == b; }
PROVEOUT_INLINE MaskRegister unequal(IntRegister a, IntRegister b) { return a != b; }
PROVEOUT_INLINE MaskRegister all_or_none(bool all) { return IntRegister{} - (all ? 1 : 0); }
PROVEOUT_INLINE IntRegister full_lanes(MaskRegister m) { return m; }

#if PROVEOUT_REGISTER_LANES == 8  // AVX2

PROVEOUT_INLINE FloatRegister filled(float a) { return (FloatRegister)_mm256_set1_ps(a); }
PROVEOUT_INLINE FloatRegister larger(FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm256_max_ps((__m256)a, (__m256)b);
}
PROVEOUT_INLINE FloatRegister smaller(FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm256_min_ps((__m256)a, (__m256)b);
}
PROVEOUT_INLINE FloatRegister square_root(FloatRegister a) {
  return (FloatRegister)_mm256_sqrt_ps((__m256)a);
}
PROVEOUT_INLINE std::uint32_t lane_bits(MaskRegister m) {
  return static_cast<std::uint32_t>(_mm256_movemask_ps((__m256)m));
}
PROVEOUT_INLINE float least_lane(FloatRegister a) {
  __m256 m = (__m256)a;
  m = _mm256_min_ps(m, _mm256_permute2f128_ps(m, m, 1));
  m = _mm256_min_ps(m, _mm256_permute_ps(m, 0x4E));
  return ((FloatRegister)_mm256_min_ps(m, _mm256_permute_ps(m, 0xB1)))[0];
}

#elif defined(__SSE2__)

PROVEOUT_INLINE FloatRegister filled(float a) { return (FloatRegister)_mm_set1_ps(a); }
PROVEOUT_INLINE FloatRegister larger(FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm_max_ps((__m128)a, (__m128)b);
}
PROVEOUT_INLINE FloatRegister smaller(FloatRegister a, FloatRegister b) {
  return (FloatRegister)_mm_min_ps((__m128)a, (__m128)b);
}
PROVEOUT_INLINE FloatRegister square_root(FloatRegister a) {
  return (FloatRegister)_mm_sqrt_ps((__m128)a);
}
PROVEOUT_INLINE std::uint32_t lane_bits(MaskRegister m) {
  return static_cast<std::uint32_t>(_mm_movemask_ps((__m128)m));
}

#elif defined(__wasm_simd128__)

// pmax(b, a) is b < a ? a : b: an instruction of the processor each. Not max and min: they treat
// what is no number otherwise and take several.
PROVEOUT_INLINE FloatRegister filled(float a) { return (FloatRegister)wasm_f32x4_splat(a); }
PROVEOUT_INLINE FloatRegister larger(FloatRegister a, FloatRegister b) {
  return (FloatRegister)wasm_f32x4_pmax((v128_t)b, (v128_t)a);
}
PROVEOUT_INLINE FloatRegister smaller(FloatRegister a, FloatRegister b) {
  return (FloatRegister)wasm_f32x4_pmin((v128_t)b, (v128_t)a);
}
PROVEOUT_INLINE FloatRegister square_root(FloatRegister a) {
  return (FloatRegister)wasm_f32x4_sqrt((v128_t)a);
}
PROVEOUT_INLINE std::uint32_t lane_bits(MaskRegister m) {
  return static_cast<std::uint32_t>(wasm_i32x4_bitmask((v128_t)m));
}

#elif defined(__ARM_NEON) && defined(__aarch64__)

// By comparison and choice: NEON's own max and min treat what is no number, and zeros, otherwise.
PROVEOUT_INLINE FloatRegister filled(float a) { return (FloatRegister)vdupq_n_f32(a); }
PROVEOUT_INLINE FloatRegister larger(FloatRegister a, FloatRegister b) {
  return (FloatRegister)vbslq_f32(vcgtq_f32((float32x4_t)a, (float32x4_t)b), (float32x4_t)a,
                                  (float32x4_t)b);
}
PROVEOUT_INLINE FloatRegister smaller(FloatRegister a, FloatRegister b) {
  return (FloatRegister)vbslq_f32(vcltq_f32((float32x4_t)a, (float32x4_t)b), (float32x4_t)a,
                                  (float32x4_t)b);
}
PROVEOUT_INLINE FloatRegister square_root(FloatRegister a) {
  return (FloatRegister)vsqrtq_f32((float32x4_t)a);
}
PROVEOUT_INLINE std::uint32_t lane_bits(MaskRegister m) {
  return static_cast<std::uint32_t>(vaddvq_s32((int32x4_t)(m & IntRegister{1, 2, 4, 8})));
}

#else  // any other processor

PROVEOUT_INLINE FloatRegister filled(float a) { return FloatRegister{a, a, a, a}; }
PROVEOUT_INLINE FloatRegister larger(FloatRegister a, FloatRegister b) { return a > b ? a : b; }
PROVEOUT_INLINE FloatRegister smaller(FloatRegister a, FloatRegister b) { return a < b ? a : b; }
PROVEOUT_INLINE FloatRegister square_root(FloatRegister a) {
  for (int i = 0; i < register_lanes; ++i) a[i] = __builtin_sqrtf(a[i]);
  return a;
}
PROVEOUT_INLINE std::uint32_t lane_bits(MaskRegister m) {
  std::uint32_t bits = 0;
  for (int i = 0; i < register_lanes; ++i) bits |= static_cast<std::uint32_t>(m[i] & 1) << i;
  return bits;
}

#endif

#if defined(__wasm_simd128__)
// A choice by the vectors' own ?: compares the mask with zero again.
PROVEOUT_INLINE FloatRegister chosen(MaskRegister m, FloatRegister a, FloatRegister b) {
  return (FloatRegister)wasm_v128_bitselect((v128_t)a, (v128_t)b, (v128_t)m);
}
PROVEOUT_INLINE IntRegister chosen(MaskRegister m, IntRegister a, IntRegister b) {
  return (IntRegister)wasm_v128_bitselect((v128_t)a, (v128_t)b, (v128_t)m);
}
#else
PROVEOUT_INLINE FloatRegister chosen(MaskRegister m, FloatRegister a, FloatRegister b) {
  return m ? a : b;
}
PROVEOUT_INLINE IntRegister chosen(MaskRegister m, IntRegister a, IntRegister b) {
  return m ? a : b;
}
#endif

#if PROVEOUT_REGISTER_LANES == 4
PROVEOUT_INLINE float least_lane(FloatRegister m) {
  m = smaller(m, __builtin_shufflevector(m, m, 2, 3, 0, 1));
  return smaller(m, __builtin_shufflevector(m, m, 1, 0, 3, 2))[0];
}
#endif

#endif

// The greater of each half of sixteen bits, without signs.
typedef std::uint16_t HalfRegister __attribute__((vector_size(4 * register_lanes)));
PROVEOUT_INLINE IntRegister greater_halves(IntRegister a, IntRegister b) {
#if PROVEOUT_REGISTER_LANES == 16
  return (IntRegister)_mm512_maskz_max_epu16(0xFFFFFFFF, (__m512i)a, (__m512i)b);
#else
  const HalfRegister ha = (HalfRegister)a, hb = (HalfRegister)b;
  return (IntRegister)(ha > hb ? ha : hb);
#endif
}

// Without the fraction, for |a| below 2^31.
PROVEOUT_INLINE FloatRegister without_fraction(FloatRegister a) {
#if defined(__wasm_simd128__)
  return (FloatRegister)wasm_f32x4_trunc((v128_t)a);  // its conversions saturate, which takes long
#else
  return __builtin_convertvector(__builtin_convertvector(a, IntRegister), FloatRegister);
#endif
}

// ---- sixteen lanes

struct Floats {
  FloatRegister part[parts];
  Floats() = default;
  PROVEOUT_INNER Floats(float a) {
    for (FloatRegister& p : part) p = filled(a);
  }
};
struct Ints {
  IntRegister part[parts];
};
struct Mask {
  MaskRegister part[parts];
};

PROVEOUT_INLINE Floats splat(float a) { return Floats(a); }
PROVEOUT_INLINE Floats zero() { return Floats(0.f); }
PROVEOUT_INLINE Ints splat_int(std::int32_t a) {
  Ints r;
  for (IntRegister& p : r.part) p = IntRegister{} + a;
  return r;
}
PROVEOUT_INLINE Mask mask_of(bool all) {
  Mask r;
  for (MaskRegister& p : r.part) p = all_or_none(all);
  return r;
}

PROVEOUT_INLINE Floats operator+(Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = a.part[i] + b.part[i];
  return a;
}
PROVEOUT_INLINE Floats operator-(Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = a.part[i] - b.part[i];
  return a;
}
PROVEOUT_INLINE Floats operator*(Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = a.part[i] * b.part[i];
  return a;
}
PROVEOUT_INLINE Floats operator/(Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = a.part[i] / b.part[i];
  return a;
}
PROVEOUT_INLINE Floats operator-(Floats a) {
  for (FloatRegister& p : a.part) p = -p;
  return a;
}
PROVEOUT_INLINE Ints operator+(Ints a, Ints b) {
  for (int i = 0; i < parts; ++i) a.part[i] = a.part[i] + b.part[i];
  return a;
}
PROVEOUT_INLINE Ints operator-(Ints a, Ints b) {
  for (int i = 0; i < parts; ++i) a.part[i] = a.part[i] - b.part[i];
  return a;
}

PROVEOUT_INLINE Mask operator<(Floats a, Floats b) {
  Mask r;
  for (int i = 0; i < parts; ++i) r.part[i] = less(a.part[i], b.part[i]);
  return r;
}
PROVEOUT_INLINE Mask operator<=(Floats a, Floats b) {
  Mask r;
  for (int i = 0; i < parts; ++i) r.part[i] = less_or_equal(a.part[i], b.part[i]);
  return r;
}
PROVEOUT_INLINE Mask operator>(Floats a, Floats b) { return b < a; }
PROVEOUT_INLINE Mask operator>=(Floats a, Floats b) { return b <= a; }
PROVEOUT_INLINE Mask operator==(Floats a, Floats b) {
  Mask r;
  for (int i = 0; i < parts; ++i) r.part[i] = equal(a.part[i], b.part[i]);
  return r;
}
PROVEOUT_INLINE Mask operator!=(Floats a, Floats b) {
  Mask r;
  for (int i = 0; i < parts; ++i) r.part[i] = unequal(a.part[i], b.part[i]);
  return r;
}
PROVEOUT_INLINE Mask operator==(Ints a, Ints b) {
  Mask r;
  for (int i = 0; i < parts; ++i) r.part[i] = equal(a.part[i], b.part[i]);
  return r;
}
PROVEOUT_INLINE Mask operator!=(Ints a, Ints b) {
  Mask r;
  for (int i = 0; i < parts; ++i) r.part[i] = unequal(a.part[i], b.part[i]);
  return r;
}

PROVEOUT_INLINE Mask operator&(Mask a, Mask b) {
  for (int i = 0; i < parts; ++i) a.part[i] = static_cast<MaskRegister>(a.part[i] & b.part[i]);
  return a;
}
PROVEOUT_INLINE Mask operator|(Mask a, Mask b) {
  for (int i = 0; i < parts; ++i) a.part[i] = static_cast<MaskRegister>(a.part[i] | b.part[i]);
  return a;
}
PROVEOUT_INLINE Mask operator^(Mask a, Mask b) {
  for (int i = 0; i < parts; ++i) a.part[i] = static_cast<MaskRegister>(a.part[i] ^ b.part[i]);
  return a;
}
// The numbers where the mask is set, elsewhere 0.
PROVEOUT_INLINE Ints operator&(Mask mask, Ints a) {
  for (int i = 0; i < parts; ++i) a.part[i] = full_lanes(mask.part[i]) & a.part[i];
  return a;
}
// a where the mask is set, b elsewhere.
PROVEOUT_INLINE Floats select(Mask mask, Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = chosen(mask.part[i], a.part[i], b.part[i]);
  return a;
}
PROVEOUT_INLINE Ints select(Mask mask, Ints a, Ints b) {
  for (int i = 0; i < parts; ++i) a.part[i] = chosen(mask.part[i], a.part[i], b.part[i]);
  return a;
}
// One bit a lane.
PROVEOUT_INLINE std::uint32_t bits(Mask mask) {
  std::uint32_t all = 0;
  for (int i = 0; i < parts; ++i) all |= lane_bits(mask.part[i]) << (i * register_lanes);
  return all;
}

PROVEOUT_INLINE Floats max(Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = larger(a.part[i], b.part[i]);
  return a;
}
PROVEOUT_INLINE Floats min(Floats a, Floats b) {
  for (int i = 0; i < parts; ++i) a.part[i] = smaller(a.part[i], b.part[i]);
  return a;
}
PROVEOUT_INLINE Floats abs(Floats a) { return max(a, -a); }
PROVEOUT_INLINE Floats clamp(Floats a, float low, float high) { return min(max(a, low), high); }
PROVEOUT_INLINE Floats sqrt(Floats a) {
  for (FloatRegister& p : a.part) p = square_root(p);
  return a;
}
PROVEOUT_INLINE Floats truncated(Floats a) {
  for (FloatRegister& p : a.part) p = without_fraction(p);
  return a;
}
// Towards zero, for |a| below 2^31.
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

// Sixteen numbers in a row in memory, at any address.
PROVEOUT_INLINE Floats load(const float* from) {
  Floats v;
  __builtin_memcpy(v.part, from, sizeof v.part);
  return v;
}
PROVEOUT_INLINE Ints load_ints(const std::int32_t* from) {
  Ints v;
  __builtin_memcpy(v.part, from, sizeof v.part);
  return v;
}
PROVEOUT_INLINE void store(float* to, Floats v) { __builtin_memcpy(to, v.part, sizeof v.part); }
PROVEOUT_INLINE void store(std::int32_t* to, Ints v) {
  __builtin_memcpy(to, v.part, sizeof v.part);
}

PROVEOUT_INLINE float lane_of(Floats a, int lane) {
  float f[lanes];
  store(f, a);
  return f[lane];
}
PROVEOUT_INLINE float least_of(Floats a) {
  // By halves: the same pairs, so the same of two zeros, on every instruction set.
  for (int half = parts / 2; half > 0; half /= 2) {
    for (int i = 0; i < half; ++i) a.part[i] = smaller(a.part[i], a.part[i + half]);
  }
  return least_lane(a.part[0]);
}
