// The kernels' one text. Included by kernel_base.cpp and its wider twins inside a namespace of
// their own, after all standard headers; not for other use.

// The second needs the first.
// clang-format off
#include "sim/stock/kernel_vector.h"
#include "sim/stock/kernel_distance.h"
// clang-format on

// ---- places of a tile's voxels, relative to its middle, setup frame

struct Places {
  Floats x, y, z;
};

struct PlaceOfPoint {
  float x, y, z;
};

// i, j, k: places in voxels from the tile's middle, along the tile's own axes.
PROVEOUT_INLINE Places placed(const TileFrame& f, Floats i, Floats j, Floats k) {
  const Floats x = i * f.voxel, y = j * f.voxel, z = k * f.voxel;
  const float* t = f.turn.data();
  return {t[0] * x + t[1] * y + t[2] * z, t[3] * x + t[4] * y + t[5] * z,
          t[6] * x + t[7] * y + t[8] * z};
}

PROVEOUT_INLINE PlaceOfPoint placed_point(const TileFrame& f, float i, float j, float k) {
  const float x = i * f.voxel, y = j * f.voxel, z = k * f.voxel;
  const float* t = f.turn.data();
  return {t[0] * x + t[1] * y + t[2] * z, t[3] * x + t[4] * y + t[5] * z,
          t[6] * x + t[7] * y + t[8] * z};
}

PROVEOUT_INLINE Floats counting(int bits_from, int mask) {
  float v[lanes];
  for (int lane = 0; lane < lanes; ++lane) v[lane] = static_cast<float>(lane >> bits_from & mask);
  return load(v);
}

// Blocks of 8 that the sweep can reach, then their cells of 4: list gets the cells' numbers,
// centre the distance at their middles.
template <class Path>
static int candidates_of(const Path& path, const TileFrame& f, const TileBounds& bounds,
                         float limit, float cap, std::uint16_t* list, float* centre) {
  std::uint16_t blocks[64];
  int block_count = 0;
  const float half8 = 6.0622f * f.voxel, half4 = 2.5981f * f.voxel;
  const Floats bx = counting(0, 3) * 8.f - 12.f, by = counting(2, 3) * 8.f - 12.f;
  Column shared;
  if (f.aligned) shared = path.column(bx * f.voxel, by * f.voxel);
  for (int k = 0; k < 4; ++k) {
    const Floats least = load(bounds.block_least + 16 * k);
    if (bits(least < limit) == 0) continue;
    const float height = 8.f * static_cast<float>(k) - 12.f;
    Floats d;
    if (f.aligned) {
      d = path.at(shared, height * f.voxel);
    } else {
      const Places p = placed(f, bx, by, splat(height));
      d = path.at(path.column(p.x, p.y), p.z);
    }
    const Floats bound = min(-least, splat(cap));
    std::uint32_t pass = bits((least < limit) & (d - half8 < bound));
    for (; pass != 0; pass &= pass - 1) {
      blocks[block_count++] = static_cast<std::uint16_t>(16 * k + __builtin_ctz(pass));
    }
  }
  // Two blocks at a time: their eight cells each.
  const Floats cx = counting(0, 1) * 4.f - 2.f, cy = counting(1, 1) * 4.f - 2.f,
               cz = counting(2, 1) * 4.f - 2.f;
  const Mask second = counting(3, 1) > 0.f;
  int count = 0;
  for (int n = 0; n < block_count; n += 2) {
    const int a = blocks[n], b = blocks[n + 1 < block_count ? n + 1 : n];
    const auto middle = [&](int shift) {
      return select(second, splat(static_cast<float>(b >> shift & 3) * 8.f - 12.f),
                    splat(static_cast<float>(a >> shift & 3) * 8.f - 12.f));
    };
    const Floats i = middle(0) + cx, j = middle(2) + cy, k = middle(4) + cz;
    const Places p = f.aligned ? Places{i * f.voxel, j * f.voxel, k * f.voxel} : placed(f, i, j, k);
    const Floats d = path.at(path.column(p.x, p.y), p.z);
    float leasts[lanes], ds[lanes];
    __builtin_memcpy(leasts, bounds.least + 8 * a, 8 * sizeof(float));
    __builtin_memcpy(leasts + 8, bounds.least + 8 * b, 8 * sizeof(float));
    const Floats least = load(leasts);
    store(ds, d);
    std::uint32_t pass = bits((least < limit) & (d - half4 < min(-least, splat(cap))));
    if (n + 1 == block_count) pass &= 0xFF;
    for (; pass != 0; pass &= pass - 1) {
      const int lane = __builtin_ctz(pass);
      list[count] = static_cast<std::uint16_t>(8 * (lane < 8 ? a : b) + (lane & 7));
      centre[count++] = ds[lane];
    }
  }
  return count;
}

struct CellPlace {
  float i, j, k;  // of the cell's first voxel, voxels from the tile's middle
};
PROVEOUT_INLINE CellPlace cell_place(int s) {
  const int block = s >> 3, child = s & 7;
  return {static_cast<float>((block & 3) * 8 + (child & 1) * 4) - 15.5f,
          static_cast<float>((block >> 2 & 3) * 8 + (child >> 1 & 1) * 4) - 15.5f,
          static_cast<float>((block >> 4) * 8 + (child >> 2) * 4) - 15.5f};
}

// each(k, distances) for the four planes of a cell. Of free angles the text stands once.
template <class Path, class Each>
PROVEOUT_INLINE void over_cell(const Path& path, const TileFrame& f, const CellPlace& at,
                               Each each) {
  const Floats i = counting(0, 3) + at.i, j = counting(2, 3) + at.j;
  if (f.aligned) {
    const Column shared = path.column(i * f.voxel, j * f.voxel);
    for (int k = 0; k < 4; ++k) each(k, path.at(shared, (at.k + static_cast<float>(k)) * f.voxel));
    return;
  }
#pragma GCC unroll 1
  for (int k = 0; k < 4; ++k) {
    const Places p = placed(f, i, j, splat(at.k + static_cast<float>(k)));
    each(k, path.at(path.column(p.x, p.y), p.z));
  }
}

// To whole steps, as Stock::Fields::Rounding does. Whether a motion takes anything, and how much,
// is asked of what will be stored: else every pass along an old floor would shave off a rounding,
// and what comes next would hang on whether a tile was stored and loaded in between. Where the
// tool's surface lies is asked of the distance itself.
PROVEOUT_INLINE Floats rounded_to_steps(const TileFrame& f, Floats mm) {
  const Floats held = clamp(mm * f.steps_a_mm, -32767.f, 32767.f);
  return (truncated(held + 32768.5f) - 32768.f) * f.mm_a_step;
}

template <class Path>
static int evaluate_of(const Path& path, const TileFrame& f, const std::uint16_t* list,
                       const float* centre, int count, const float* stored, float band,
                       float* swept, std::uint16_t* winners) {
  const float deep = -band - 2.5981f * f.voxel;
  const bool rounds = band < 1e29f;  // without a band nothing is stored
  int won = 0;
  for (int n = 0; n < count; ++n) {
    const int s = list[n];
    float* out = swept + 64 * won;
    if (centre[n] <= deep) {
      for (int k = 0; k < 4; ++k) store(out + 16 * k, splat(-band));
      winners[won++] = static_cast<std::uint16_t>(s);
      continue;
    }
    Mask any = mask_of(false);
    over_cell(path, f, cell_place(s), [&](int k, Floats d) {
      store(out + 16 * k, d);
      const Floats now = rounds ? rounded_to_steps(f, -d) : -d;
      any = any | (min(now, band) > load(stored + 64 * s + 16 * k));
    });
    if (bits(any) != 0) winners[won++] = static_cast<std::uint16_t>(s);
  }
  return won;
}

static int candidates_any(const LocalSweep& s, const TileFrame& f, const TileBounds& bounds,
                          float limit, float cap, std::uint16_t* list, float* centre) {
  int count = 0;
  with_path(s, [&](const auto& path) {
    count = candidates_of(path, f, bounds, limit, cap, list, centre);
  });
  return count;
}

static int evaluate_any(const LocalSweep& s, const TileFrame& f, const std::uint16_t* list,
                        const float* centre, int count, const float* stored, float band,
                        float* swept, std::uint16_t* winners) {
  int won = 0;
  with_path(s, [&](const auto& path) {
    won = evaluate_of(path, f, list, centre, count, stored, band, swept, winners);
  });
  return won;
}

static void points_any(const LocalSweep& s, const float* x, const float* y, const float* z,
                       int count, float* out) {
  with_path(s, [&](const auto& path) {
    for (int i = 0; i < count; i += lanes) {
      store(out + i, path.at(path.column(load(x + i), load(y + i)), load(z + i)));
    }
  });
}

static void slopes_any(const LocalSweep& s, const float* x, const float* y, const float* z,
                       int count, float step, float* sx, float* sy, float* sz) {
  const float per_step = 0.5f / step;
  float* const level[2] = {sx, sy};
  with_path(s, [&](const auto& path) {
    for (int i = 0; i < count; i += lanes) {
      const Floats px = load(x + i), py = load(y + i), pz = load(z + i);
#pragma GCC unroll 1
      for (int axis = 0; axis < 2; ++axis) {
        const float dx = axis == 0 ? step : 0.f, dy = axis == 0 ? 0.f : step;
        store(level[axis] + i, (path.at(path.column(px + dx, py + dy), pz) -
                                path.at(path.column(px - dx, py - dy), pz)) *
                                   per_step);
      }
      const Column here = path.column(px, py);
      store(sz + i, (path.at(here, pz + step) - path.at(here, pz - step)) * per_step);
    }
  });
}

// sin(pi x) for |x| <= 1/2, to 6e-8.
PROVEOUT_INLINE Floats sine_of_half_turns(Floats x) {
  const Floats q = x * x;
  Floats p = splat(-0.00737043094f);
  p = p * q + 0.0821458866f;
  p = p * q - 0.599264529f;
  p = p * q + 2.55016404f;
  p = p * q - 5.16771278f;
  p = p * q + 3.14159265f;
  return p * x;
}

// A step at 0 smeared over +-1: 1 below, 0 above.
PROVEOUT_INLINE Floats smeared_step(Floats x) {
  const Floats c = clamp(x, -1.f, 1.f);
  // sin(pi c) = sin(pi (sign - c)) brings the argument to half a turn at most.
  const Floats folded = select(c > 0.5f, 1.f - c, select(c < -0.5f, -1.f - c, c));
  return 0.5f * (1.f - c - sine_of_half_turns(folded) * 0.318309886f);
}

// sim/stock/occupancy.h, eight digits of it.
PROVEOUT_INLINE Floats occupancy_of(Floats voxels) {
  return (4.f * smeared_step(voxels) - smeared_step(0.5f * voxels)) * (1.f / 3.f);
}

// Which lanes of a plane sample engagement: x + 2 y + 4 z modulo 7, one voxel of seven along every
// axis and face diagonal.
struct Pattern {
  static constexpr int most = 7 + 3 * 4;
  std::uint32_t lanes_at[most] = {};
  explicit Pattern(int sevenths) {
    for (int lane = 0; lane < lanes; ++lane) {
      for (int first = 0; first < most; ++first) {
        const int place = (first + (lane & 3) + 2 * (lane >> 2)) % 7;
        lanes_at[first] |= static_cast<std::uint32_t>(place < sevenths) << lane;
      }
    }
  }
  // Of cell s; its planes follow each other four apart.
  PROVEOUT_INNER const std::uint32_t* of(int s) const {
    const int block = s >> 3;
    const int phase = (block & 3) * 8 + (s & 1) * 4 +
                      2 * ((block >> 2 & 3) * 8 + (s >> 1 & 1) * 4) +
                      4 * ((block >> 4) * 8 + (s >> 2 & 1) * 4);
    return lanes_at + phase % 7;
  }
};

// What changes in one plane of a cell.
struct PlaneChange {
  Ints taken;          // voxels * volume_scale
  bool whole = false;  // all sixteen go from deep inside the stock to far outside
  std::uint32_t changed = 0, worth = 0, olds = 0, tools = 0, freed = 0;
  std::uint32_t beside = 0, between = 0;  // what faces and owns are chosen from
  std::uint32_t faces = 0, owns = 0;
};

// Which voxels sample engagement; sampled: lanes of the pattern.
PROVEOUT_INLINE void choose_sampled(PlaneChange& c, std::uint32_t sampled, bool corner) {
  c.faces = c.beside & sampled;
  c.owns = c.between & ((c.olds & c.tools & sampled) | (corner ? 1u : 0u));
}

PROVEOUT_INLINE PlaneChange plane_change(const TileFrame& f, Floats old, Floats tool, float band) {
  const float h = f.voxel, skin = 0.05f * h, to_voxels = 1.f / h;
  const Floats now = min(rounded_to_steps(f, -tool), band);
  const Mask changed = (now > old) & (old < 2.f * h) & (now > -2.f * h);
  PlaneChange c;
  c.changed = bits(changed);
  if (c.changed == 0) return c;
  // Deep inside it is 1 and far outside 0, bit for bit, so mostly there is nothing to work out.
  const bool inside = bits(old > -2.f * h) == 0, outside = bits(now < 2.f * h) == 0;
  const Floats was = inside ? splat(1.f) : occupancy_of(old * to_voxels);
  const Floats is = outside ? zero() : occupancy_of(now * to_voxels);
  c.whole = inside && outside;
  const Floats share = was - is;
  c.taken = changed & to_ints(share * EngagedVoxels::volume_scale);
  const Mask worth = c.taken != splat_int(0);
  const Mask near_old = (old > -h) & (old < 0.5f * h);
  const Mask near_tool = (tool > -h) & (tool < 0.5f * h);
  c.worth = bits(worth);
  c.olds = bits(near_old);
  c.tools = bits(near_tool);
  // What a motion only grazes, by rounding or along a wall it made before, says nothing.
  c.beside = bits(worth & (now - old >= skin)) & (c.olds | c.tools);
  c.between = bits(worth & (old < -skin) & (tool < -skin));
  c.freed = bits((old < 0.f) & (tool < 0.f));
  return c;
}

PROVEOUT_INLINE void list_voxels(const PlaneChange& c, std::uint32_t listed, int index,
                                 const float* old, const float* tool, const std::int32_t* owner,
                                 std::int32_t earliest, EngagedVoxels& engaged) {
  std::int32_t takes[lanes];
  store(takes, c.taken);
  for (; listed != 0; listed &= listed - 1) {
    const int lane = __builtin_ctz(listed);
    const int m = engaged.count++;
    engaged.index[m] = static_cast<std::uint16_t>(index + lane);
    engaged.old[m] = old[lane];
    engaged.swept[m] = tool[lane];
    engaged.taken[m] = takes[lane];
    engaged.earliest[m] = earliest;
    engaged.owner[m] = owner == nullptr ? 0 : owner[lane];
    engaged.what[m] = static_cast<std::uint8_t>(
        (c.owns >> lane & 1) * engaged_own + (c.faces >> lane & 1) * engaged_face +
        (c.olds >> lane & 1) * engaged_near_old + (c.tools >> lane & 1) * engaged_near_tool);
  }
}

// What the winners take, before it is written: see EngagementSampler in engagement_sampler.h.
// Returns the volume.
static std::int64_t account_any(const TileFrame& f, const std::uint16_t* winners, int count,
                                const float* stored, const float* swept, float band, bool all,
                                int sevenths, EngagedVoxels& engaged) {
  const Pattern pattern(sevenths);
  std::int64_t volume = 0;
  for (int n = 0; n < count; ++n) {
    const int s = winners[n];
    const std::uint32_t* sampled = pattern.of(s);
    Ints sum = splat_int(0);
    for (int k = 0; k < 4; ++k) {
      const float *old = stored + 64 * s + 16 * k, *tool = swept + 64 * n + 16 * k;
      PlaneChange c = plane_change(f, load(old), load(tool), band);
      if (c.changed == 0) continue;
      choose_sampled(c, sampled[4 * k], k == 0);
      sum = sum + c.taken;
      const std::uint32_t listed = all ? c.worth : c.faces | c.owns;
      if (listed != 0) list_voxels(c, listed, 64 * s + 16 * k, old, tool, nullptr, 0, engaged);
    }
    std::int32_t sums[lanes];
    store(sums, sum);
    for (const std::int32_t some : sums) volume += some;
  }
  return volume;
}

// The volume of one plane by fours of neighbours.
static void attribute_plane(const PlaneChange& c, int index, const std::int32_t* owner,
                            std::int32_t earliest, VolumeAttribution& attribution) {
  std::int32_t takes[lanes];
  store(takes, c.taken);
  for (const int corner : {0, 2, 8, 10}) {
    const std::uint32_t here = c.worth & (0x33u << corner);
    if (here == 0) continue;
    // One whose middle is freed stands for all; else any.
    const std::uint32_t freed = here & c.freed;
    const int lane = __builtin_ctz(freed != 0 ? freed : here);
    const int v = attribution.count++;
    attribution.index[v] = static_cast<std::uint16_t>(index + lane);
    attribution.taken[v] =
        takes[corner] + takes[corner + 1] + takes[corner + 4] + takes[corner + 5];
    attribution.owner[v] = owner[lane];
    attribution.earliest[v] = freed != 0 ? earliest : owner[lane];
  }
}

// The plane under a cell's 64 values: its slope is theirs along two lines an axis. Any slope makes
// a bound, this one a near one.
PROVEOUT_INLINE void bound_cell(const float* v, float h, int s, TileBounds& bounds) {
  const float per_mm = 1.f / (6.f * h);
  const float sx = (v[23] - v[20] + (v[43] - v[40])) * per_mm;
  const float sy = (v[29] - v[17] + (v[46] - v[34])) * per_mm;
  const float sz = (v[53] - v[5] + (v[58] - v[10])) * per_mm;
  const Floats flat = (counting(0, 3) - 1.5f) * (sx * h) + (counting(2, 3) - 1.5f) * (sy * h);
  Floats under = load(v) - (flat + splat(-1.5f * h * sz));
  for (int k = 1; k < 4; ++k) {
    under = min(under, load(v + 16 * k) - (flat + splat((static_cast<float>(k) - 1.5f) * h * sz)));
  }
  bounds.slope_x[s] = sx;
  bounds.slope_y[s] = sy;
  bounds.slope_z[s] = sz;
  bounds.under[s] = least_of(under);
}

static void bound_any(const TileFrame& f, const float* stored, int first, int count,
                      TileBounds& bounds) {
  for (int s = first; s < first + count; ++s) {
    const float* v = stored + 64 * s;
    bounds.least[s] = least_of(min(min(load(v), load(v + 16)), min(load(v + 32), load(v + 48))));
    bound_cell(v, f.voxel, s, bounds);
  }
}

// The second needs the first.
// clang-format off
#include "sim/stock/kernel_chain.h"
#include "sim/stock/kernel_attribution.h"
// clang-format on

// Writes the winners and their bounds.
static void write_any(const TileFrame& f, const std::uint16_t* winners, int count,
                      const float* swept, float band, std::int32_t id, float* stored,
                      std::int32_t* made, TileBounds& bounds) {
  for (int n = 0; n < count; ++n) {
    const int s = winners[n];
    Floats least = splat(band);
    for (int k = 0; k < 4; ++k) {
      float* at = stored + 64 * s + 16 * k;
      std::int32_t* by = made + 64 * s + 16 * k;
      const Floats old = load(at),
                   now = min(rounded_to_steps(f, -load(swept + 64 * n + 16 * k)), splat(band));
      const Mask wins = now > old;
      const Floats value = select(wins, now, old);
      store(by, select(wins, splat_int(id), load_ints(by)));
      store(at, value);
      least = min(least, value);
    }
    bounds.least[s] = least_of(least);
    bound_cell(stored + 64 * s, f.voxel, s, bounds);
  }
}

// Radius of the body at height h above the foot.
PROVEOUT_INLINE Floats radius_at(const Profile& p, Floats h) {
  const Mask inside = (h >= 0.f) & (h <= p.top);
  Floats radius = zero();
  if (p.shape == ProfileShape::sharp || p.shape == ProfileShape::rounded) {
    const Floats d = p.corner - h;
    const Floats rim = p.core + sqrt(max(p.corner * p.corner - d * d, 0.f));
    radius = select(h >= p.corner, splat(p.core + p.corner), rim);
  } else {
    for (const ProfileEdge& e : p.edges) {
      const float lo = e.h0 < e.h1 ? e.h0 : e.h1;
      const float hi = e.h0 < e.h1 ? e.h1 : e.h0;
      const Mask here = (h >= lo) & (h <= hi);
      if (hi == lo) {
        const float wide = e.r0 > e.r1 ? e.r0 : e.r1;
        radius = select(here & (h < p.top), max(radius, splat(wide)), radius);
      } else {
        const Floats at = e.r0 + (h - e.h0) / (e.h1 - e.h0) * (e.r1 - e.r0);
        radius = select(here, max(radius, at), radius);
      }
    }
  }
  return select(inside, radius, zero());
}

// Where along a motion in plan a ball of radius r, with a shank of its own radius up to top,
// touches a point first: beside the shank where the shank is, else at the nearer end of the ball's
// chord through the point along the path. Going up, not before the top is as high as the point.
PROVEOUT_INLINE Floats ball_touches(const Column& c, Floats height, float r, float top, float climb,
                                    float run) {
  const float per_slant = 1.f / (1.f + climb * climb);
  const Floats beside = clamp(c.a - sqrt(max(r * r - c.b * c.b, 0.f)), 0.f, run);
  const Floats up = height - r;
  const Floats nearest = (c.a + climb * up) * per_slant;
  const Floats along = c.a - nearest, over = up - climb * nearest;
  const Floats chord = max(r * r - (along * along + over * over + c.b * c.b), 0.f);
  const Floats ball = clamp(nearest - sqrt(chord * per_slant), 0.f, run);
  const Floats at = select(up - climb * beside >= 0.f, beside, ball);
  return climb > 0.f ? clamp(max(at, (height - top) / splat(climb)), 0.f, run) : at;
}

// First touches, as in sweep.h, by straight motions that go somewhere horizontally.
static void touches_any(const LocalSweep& s, const float* x, const float* y, const float* z,
                        int count, Touches& to) {
  const float climb = s.rise / s.run;
  const bool ball = s.profile->shape == ProfileShape::rounded && s.profile->core == 0.f;
  const int rounds = ball ? 0 : s.rise == 0.f ? 1 : 6;
  for (int i = 0; i < count; i += lanes) {
    const Column c = along_across(load(x + i), load(y + i), s.ax, s.ay, s.ux, s.uy);
    const Floats height = load(z + i) - s.az;
    Floats at = ball ? ball_touches(c, height, s.profile->corner, s.top, climb, s.run)
                     : clamp(c.a, 0.f, s.run);
    for (int n = 0; n < rounds; ++n) {
      const Floats r = radius_at(*s.profile, height - climb * at);
      const Floats next = clamp(c.a - sqrt(max(r * r - c.b * c.b, 0.f)), 0.f, s.run);
      if (n != 0 && bits(next != at) == 0) break;  // a plain cylinder is there at once
      at = n == 0 ? next : 0.5f * (at + next);
    }
    const Floats ahead = c.a - at;
    store(to.along + i, at / s.run * s.length);
    store(to.height + i, height - climb * at);
    store(to.left + i, c.b);
    const Floats forward = max(ahead, 0.f);
    store(to.bearing + i, c.b / max(abs(c.b) + forward, splat(1e-20f)));
  }
}

#include "sim/stock/kernel_faces.h"

static Kernels kernels_named(const char* instruction_set) {
  return {points_any, candidates_any, evaluate_any,    account_any, account_chain_any,
          write_any,  touches_any,    faces_any,       gather_any,  slopes_any,
          chain_any,  first_any,      write_chain_any, bound_any,   instruction_set};
}
