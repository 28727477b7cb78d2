// Kernels about the tool's face: where points are first touched on it, and what they span there.
// Included by kernel_body.h.

// A point's place on the meridian, mm, from its height above the foot and its distance from the
// axis. Where a profile only widens upwards that is their sum.
static Floats meridian_place(const Profile& p, Floats height, Floats rho) {
  height = clamp(height, 0.f, p.top);
  if (p.shape == ProfileShape::sharp || p.shape == ProfileShape::rounded)
    return min(rho, splat(p.core + p.corner)) + height;
  if (p.widens_upwards) return min(rho, splat(p.largest_radius)) + height;
  float before = 0;
  Floats found = zero(), nearest = splat(1e30f);
  for (const ProfileEdge& e : p.edges) {
    const float dr = e.r1 - e.r0, dh = e.h1 - e.h0;
    const float whole = (dr < 0 ? -dr : dr) + (dh < 0 ? -dh : dh), square = dr * dr + dh * dh;
    const Floats share = clamp(
        ((rho - e.r0) * dr + (height - e.h0) * dh) / (square > 1e-12f ? square : 1e-12f), 0.f, 1.f);
    const Floats off_r = e.r0 + share * dr - rho, off_h = e.h0 + share * dh - height;
    const Floats off = off_r * off_r + off_h * off_h;
    found = select(off < nearest, before + share * whole, found);
    nearest = min(off, nearest);
    before += whole;
  }
  return found;
}

// The bearing of a point so far to the left on a circle.
PROVEOUT_INLINE Floats bearing_beside(Floats left, Floats rho) {
  const Floats l = min(max(left, -rho), rho);
  return l / max(abs(l) + sqrt(rho * rho - l * l), 1e-6f);
}

// Within -2..2: bearings go on round, once.
PROVEOUT_INLINE Floats once_round(Floats turn) {
  turn = select(turn < -2.f, turn + 4.f, turn);
  return select(turn >= 2.f, turn - 4.f, turn);
}

// As column_of.
PROVEOUT_INLINE void columns_of(Floats turn, std::int32_t* out) {
  turn = once_round(turn);
  float at[lanes];
  std::int32_t bin[lanes];
  store(at, turn);
  store(bin, to_ints(clamp((turn + 2.f) * 64.f, 0.f, 255.f)));
  for (int lane = 0; lane < lanes; ++lane) {
    const std::int32_t k = column_table.first.data()[bin[lane]];
    out[lane] = k + (at[lane] >= column_table.end.data()[k + 1]);
  }
}

PROVEOUT_INLINE void columns_spanned(Floats from, Floats to, std::int32_t* first,
                                     std::int32_t* more) {
  std::int32_t last[lanes];
  columns_of(from, first);
  columns_of(to, last);
  for (int lane = 0; lane < lanes; ++lane)
    more[lane] = (last[lane] - first[lane]) & (bearing_columns - 1);
}

// As PackedExtent::of; 0 is kept for nothing.
PROVEOUT_INLINE Ints packed_place(Floats place) {
  const float a_mm = static_cast<float>(ColumnExtent::places_a_mm);
  Ints steps = to_ints(max(min(place * a_mm + 0.5f, 65534.f), 1.f));
  for (IntRegister& p : steps.part) p = ((p ^ 0xFFFF) << 16) | p;
  return steps;
}

static void faces_any(const Profile& p, const FaceRules& rules, int count, const FacePlaces& at) {
  const float voxel = rules.voxel;
  // Touches of a face that comes down are found to within a fraction of a voxel: a point well
  // inside the rim lies on the face, whatever its height.
  const float inside = p.core + p.corner - 0.25f * voxel;
  for (int i = 0; i < count; i += lanes) {
    const Floats height = load(at.height + i), left = load(at.across + i);
    Floats ahead = load(at.ahead + i);
    if (!rules.descending) ahead = max(ahead, 0.f);
    const Floats rho = sqrt(ahead * ahead + left * left);
    const Floats sum = max(abs(ahead) + abs(left), 1e-6f);
    const Floats size = left / sum;
    const Floats turn =
        select(ahead >= 0.f, size, select(left >= 0.f, splat(2.f), splat(-2.f)) - size);
    Floats place = meridian_place(p, height, rho);
    if (p.shape == ProfileShape::sharp)
      place = select(rho < inside, rho, p.core + clamp(height, 0.f, p.top));
    // Ahead points lie a voxel apart sideways, which at the rim is a wide angle. On the underside
    // they lie a voxel apart either way: near the axis one stands for all round.
    Floats half = splat(0.5f * voxel) * rho / (sum * sum);
    half = select(rho < voxel, max(half, 0.5f * voxel / max(rho, 0.15f * voxel)), half);
    const Mask round = half >= 1.95f;
    Floats from = select(round, splat(-2.f), turn - half);
    Floats to = select(round, splat(1.999f), turn + half);
    if (!rules.plunging) {
      const Mask beside = ahead > 0.f;
      from = select(beside, bearing_beside(left - 0.5f * voxel, rho), from);
      to = select(beside, bearing_beside(left + 0.5f * voxel, rho), to);
    }
    store(at.ahead + i, ahead);
    store(at.place + i, place);
    store(at.turn + i, turn);
    columns_spanned(from, to, at.first + i, at.more + i);
    store(at.extent + i, packed_place(place));
  }
}

alignas(64) static const std::int32_t lane_numbers[lanes] = {0, 1, 2,  3,  4,  5,  6,  7,
                                                             8, 9, 10, 11, 12, 13, 14, 15};

// Joins an extent to the columns first to last, a register of them at a time. Whole registers of
// the row: neighbours share them, and what was just written is read again at once only where it is
// read as it was written.
PROVEOUT_INLINE void join_columns(std::uint32_t* extents, std::int32_t first, std::int32_t last,
                                  std::int32_t extent) {
  IntRegister number;
  __builtin_memcpy(&number, lane_numbers, sizeof number);
  for (std::int32_t from = first & -register_lanes; from <= last; from += register_lanes) {
    const IntRegister column = number + from;
    const IntRegister inside = (IntRegister)(column >= first) & (IntRegister)(column <= last);
    IntRegister at;
    __builtin_memcpy(&at, extents + from, sizeof at);
    at = greater_halves(at, inside & extent);
    __builtin_memcpy(extents + from, &at, sizeof at);
  }
}

struct LaneRange {
  Floats least, most;
};
PROVEOUT_INLINE LaneRange empty_range() {
  LaneRange r;
  r.least = splat(1e30f);
  r.most = splat(-1e30f);
  return r;
}
// Joins numbers, the least of which is among `low` and the greatest among `high`.
PROVEOUT_INLINE void take(LaneRange& r, Mask here, Floats low, Floats high) {
  r.least = min(select(here, low, splat(1e30f)), r.least);
  r.most = max(select(here, high, splat(-1e30f)), r.most);
}
PROVEOUT_INLINE void widen(const LaneRange& r, float& low, float& high) {
  const float least = least_of(r.least), most = -least_of(-r.most);
  low = least < low ? least : low;
  high = most > high ? most : high;
}

// What columns of the face points stand for.
PROVEOUT_INLINE void gather_columns(const PointsOfSegment& p, SegmentExtremes& to) {
  std::uint64_t columns = 0;
  for (int i = 0; i < p.count; ++i) {
    const std::int32_t first = p.first[i], more = p.more[i];
    const std::uint64_t span = ~std::uint64_t{0} >> (bearing_columns - 1 - more);
    columns |= span << first | (first == 0 ? 0 : span >> (bearing_columns - first));
    const std::int32_t last = first + more;  // from the last column on, round
    join_columns(to.extents.data(), first, last < bearing_columns ? last : bearing_columns - 1,
                 p.extent[i]);
    if (last >= bearing_columns)
      join_columns(to.extents.data(), 0, last - bearing_columns, p.extent[i]);
  }
  to.columns |= columns;
}

static void gather_any(const PointsOfSegment& p, SegmentExtremes& to) {
  LaneRange height = empty_range(), left = empty_range(), bearing = empty_range(),
            turn = empty_range(), back = empty_range();
  const float bins_a_unit = p.plunging ? 16.f : 32.f;
  const bool areas = p.turn != nullptr;
  std::uint64_t arc = 0;
  for (int i = 0; i < p.count; i += lanes) {
    const int count = p.count - i < lanes ? p.count - i : lanes;
    const Mask here = to_floats(load_ints(lane_numbers)) < splat(static_cast<float>(count));
    const Floats h = load(p.height + i), l = load(p.left + i), b = load(p.bearing + i);
    take(height, here, h, h);
    take(left, here, p.plunging ? -l : l, l);
    take(bearing, here, b, b);
    std::int32_t bin[lanes];
    store(bin, to_ints(clamp(b * bins_a_unit + 32.f, 0.f, 63.f)));
    for (int lane = 0; lane < count; ++lane) arc |= std::uint64_t{1} << bin[lane];
    if (!areas) continue;
    const Floats t = load(p.turn + i);
    const Floats behind = t + select(t > 0.f, splat(-2.f), splat(2.f));
    take(turn, here, t, t);
    take(back, here, behind, behind);
  }
  to.arc |= arc;
  widen(height, to.height_min, to.height_max);
  widen(left, to.left_min, to.left_max);
  widen(bearing, to.bearing_min, to.bearing_max);
  if (!areas) return;
  widen(turn, to.turn_min, to.turn_max);
  widen(back, to.back_min, to.back_max);
  gather_columns(p, to);
}
