// Every operation of the vector layer once over sixteen lanes, into rows of sixteen numbers.
// Included behind sim/stock/kernel_vector.h in the namespace of an instruction set.

constexpr int operation_rows = 31;

static void all_operations(const float* x, const float* y, const std::int32_t* n,
                           std::uint32_t* out) {
  const Floats a = load(x), b = load(y);
  const Ints i = load_ints(n);
  int row = 0;
  const auto floats = [&](Floats v) {
    float f[lanes];
    store(f, v);
    __builtin_memcpy(out + lanes * row++, f, sizeof f);
  };
  const auto ints = [&](Ints v) {
    std::int32_t k[lanes];
    store(k, v);
    __builtin_memcpy(out + lanes * row++, k, sizeof k);
  };
  const auto mask = [&](Mask m) {
    const std::uint32_t all = bits(m);
    for (int k = 0; k < lanes; ++k) out[lanes * row + k] = all >> k & 1;
    ++row;
  };
  floats(a + b);
  floats(a - b);
  floats(a * b);
  floats(a / b);
  floats(-a);
  floats(max(a, b));
  floats(min(a, b));
  floats(abs(a));
  floats(sqrt(abs(a)));
  floats(clamp(a, -2.f, 3.f));
  floats(select(a < b, a, b));
  floats(2.f - a);
  floats(splat(x[0]));
  mask(a < b);
  mask(a <= b);
  mask(a > b);
  mask(a >= b);
  mask(a == b);
  mask(a != b);
  mask((a < b) & (a != b));
  mask((a < b) | (a == b));
  mask((a < b) ^ mask_of(true));
  mask(i == splat_int(n[1]));
  mask(i != splat_int(n[1]));
  ints(i + splat_int(5));
  ints(i - splat_int(7));
  ints((a < b) & i);
  ints(select(a < b, i, splat_int(-1)));
  Ints halves = i - splat_int(70000);
  for (int k = 0; k < parts; ++k) halves.part[k] = greater_halves(i.part[k], halves.part[k]);
  ints(halves);
  const Floats held = clamp(a, -1e6f, 1e6f);
  ints(to_ints(held));
  floats(truncated(held) + to_floats(i) + least_of(held) + lane_of(held, 3));
}
