// Chains: motions that follow each other in a tile, taken at once. Included by kernel_body.h.

#include "sim/stock/kernel_lane_batch.h"

// A chain's motions as paths of their common kind.
template <class Path>
struct ChainPaths {
  alignas(Path) unsigned char room[ChainWork::most_motions * sizeof(Path)];
  const Path* paths = reinterpret_cast<const Path*>(room);
  ChainPaths(const LocalSweep* sweeps, int motions) {
    for (int m = 0; m < motions; ++m) new (room + m * sizeof(Path)) Path(sweeps[m]);
  }
  ChainPaths(const ChainPaths&) = delete;
  ChainPaths& operator=(const ChainPaths&) = delete;
};

// A cell while a chain's motions are asked: the largest of -distance so far, and whose it is.
struct CellEnvelope {
  Floats value[4];
  Ints owner[4];
  const TileFrame& frame;
  float least, band;
  bool any = false;
  PROVEOUT_INNER CellEnvelope(const TileFrame& f, const float* stored, float least_stored,
                              float most)
      : frame(f), least(least_stored), band(most) {
    for (int k = 0; k < 4; ++k) {
      value[k] = load(stored + 16 * k);
      owner[k] = splat_int(-1);
    }
  }
  // Motion m comes as deep as `depth` in plane k.
  PROVEOUT_INNER Mask take(int k, Floats depth, int m) {
    const Floats now = min(depth, band);
    const Mask win = now > value[k];
    value[k] = select(win, now, value[k]);
    owner[k] = select(win, splat_int(m), owner[k]);
    return win;
  }
  PROVEOUT_INNER void settle(Mask wins) {
    if (bits(wins) == 0) return;
    any = true;
    least = least_of(min(min(value[0], value[1]), min(value[2], value[3])));
  }
  PROVEOUT_INNER void fill(int m) {
    for (int k = 0; k < 4; ++k) {
      owner[k] = select(value[k] < band, splat_int(m), owner[k]);
      value[k] = splat(band);
    }
    least = band;
    any = true;
  }
  // Of the motions near, those in close come within a voxel of the cell: the others free nothing
  // of it. false: rounded to steps nothing changes.
  PROVEOUT_INNER bool keep(ChainWork& work, int won, int s, const float* stored, std::uint32_t near,
                           std::uint32_t close) const {
    work.near[won] = near & close;
    work.earliest[won] = __builtin_ctz((near & close) != 0 ? near & close : near);
    Mask wins = mask_of(false);
    for (int k = 0; k < 4; ++k) {
      const Floats old = load(stored + 64 * s + 16 * k);
      const Mask win = rounded_to_steps(frame, value[k]) > old;
      wins = wins | win;
      store(work.swept + 64 * won + 16 * k, -select(win, value[k], old));
      store(work.owner + 64 * won + 16 * k, select(win, owner[k], splat_int(-1)));
    }
    work.winners[won] = static_cast<std::uint16_t>(s);
    return bits(wins) != 0;
  }
};

// Asks one motion at all places of a cell; unrolled, as then the envelope stays in registers.
template <class Path>
PROVEOUT_INLINE void ask(const Path& path, const TileFrame& f, const CellPlace& at, int m,
                         CellEnvelope& cell) {
  Mask wins = mask_of(false);
  const Floats i = counting(0, 3) + at.i, j = counting(2, 3) + at.j;
  if (!f.aligned) {
#pragma GCC unroll 4
    for (int k = 0; k < 4; ++k) {
      const Places p = placed(f, i, j, splat(at.k + static_cast<float>(k)));
      wins = wins | cell.take(k, -path.at(path.column(p.x, p.y), p.z), m);
    }
  } else {
    const Column shared = path.column(i * f.voxel, j * f.voxel);
#pragma GCC unroll 4
    for (int k = 0; k < 4; ++k) {
      wins = wins | cell.take(k, -path.at(shared, (at.k + static_cast<float>(k)) * f.voxel), m);
    }
  }
  cell.settle(wins);
}

// The largest of -distance over the motions, and whose it is. Each cell asks its nearest motions
// first: the others then mostly cannot add.
template <class Path>
static int chain_of(const Path* paths, int motions, const TileFrame& f, const TileBounds& bounds,
                    float band, const float* stored, ChainWork& work) {
  // Which motions may reach which cell, by cell, nearest first.
  int first_of[513] = {};
  int listed[ChainWork::most_motions + 1] = {};
  for (int m = 0; m < motions; ++m) {
    const int from = listed[m];
    listed[m + 1] = from + candidates_of(paths[m], f, bounds, band, 1e30f, work.list.data() + from,
                                         work.centre.data() + from);
    for (int i = from; i < listed[m + 1]; ++i) ++first_of[work.list[i] + 1];
  }
  for (int s = 0; s < 512; ++s) first_of[s + 1] += first_of[s];
  int fill[512];
  __builtin_memcpy(fill, first_of, sizeof fill);
  for (int m = 0; m < motions; ++m) {
    for (int i = listed[m]; i < listed[m + 1]; ++i) {
      // Each cell's nearest motion comes first, the others in their order.
      const int s = work.list[i], from = first_of[s], at = fill[s]++;
      const ChainWork::Reach here{work.centre[i], m};
      if (at > from && here.centre < work.by_cell[from].centre) {
        work.by_cell[at] = work.by_cell[from];
        work.by_cell[from] = here;
      } else {
        work.by_cell[at] = here;
      }
    }
  }
  const float half4 = 2.5981f * f.voxel;
  int won = 0;
  for (int s = 0; s < 512; ++s) {
    if (first_of[s] == first_of[s + 1]) continue;
    const CellPlace at = cell_place(s);
    CellEnvelope cell(f, stored + 64 * s, bounds.least[s], band);
    std::uint32_t near = 0, close = 0;
    for (int c = first_of[s]; c < first_of[s + 1]; ++c) {
      const auto [centre, m] = work.by_cell[c];
      near |= 1u << m;
      close |= static_cast<std::uint32_t>(centre < half4 + f.voxel) << m;
    }
    for (int c = first_of[s]; c < first_of[s + 1] && cell.least < band; ++c) {
      const auto [centre, m] = work.by_cell[c];
      if (centre - half4 >= -cell.least) continue;
      if (centre + half4 <= -band) {  // all inside the tool
        cell.fill(m);
        break;
      }
      ask(paths[m], f, at, m, cell);
      ++work.evaluated;
    }
    if (cell.any && cell.keep(work, won, s, stored, near, close)) ++won;
  }
  return won;
}

// A level floor or an upright wall all over the cell is worked out once for all its heights. Deeper
// than the band the body's top could count, but no such value is kept.
template <class Path, class View>
PROVEOUT_INLINE bool ask_simply(const Path& path, const View& view, const TileFrame& f,
                                const CellPlace& at, int m, CellEnvelope& cell) {
  if constexpr (requires { view.covers; }) {
    if (!f.aligned) return false;
    if ((bits(view.covers) >> m & 1) != 0) {
      Mask wins = mask_of(false);
      for (int k = 0; k < 4; ++k) {
        const float up = (at.k + static_cast<float>(k)) * f.voxel - path.floor();
        wins = wins | cell.take(k, splat(up), m);
      }
      cell.settle(wins);
      return true;
    }
    if ((bits(view.beside) >> m & 1) != 0 && path.rim > cell.band) {
      const Floats i = counting(0, 3) + at.i, j = counting(2, 3) + at.j;
      const Floats depth = -path.side_of(path.column(i * f.voxel, j * f.voxel));
      Mask wins = mask_of(false);
      for (int k = 0; k < 4; ++k) wins = wins | cell.take(k, depth, m);
      cell.settle(wins);
      return true;
    }
  }
  return false;
}

// The same for a cell of a chain whose motions are seen all at once. Returns whether it wins.
template <class Path>
PROVEOUT_INLINE bool take_cell_by_batch(const Path* paths, const LaneBatch<Path>& batch,
                                        std::uint32_t motions, const TileFrame& f,
                                        const TileBounds& bounds, int s, float band,
                                        const float* stored, int won, ChainWork& work) {
  const float half4 = 2.5981f * f.voxel, least = bounds.least[s];
  const CellPlace at = cell_place(s);
  const PlaceOfPoint middle = placed_point(f, at.i + 1.5f, at.j + 1.5f, at.k + 1.5f);
  const auto view = batch.view(middle.x, middle.y, middle.z, half4);
  std::uint32_t near = motions & bits(view.lower < -least + half4);
  if (near != 0 && f.aligned) {
    near &= ~bits(batch.stays_under(view, bounds, s, middle.x, middle.y, middle.z, f.voxel));
  }
  if (near == 0) return false;
  const std::uint32_t close = bits(view.lower < half4 + f.voxel);
  CellEnvelope cell(f, stored + 64 * s, least, band);
  const std::uint32_t inside = near & bits(view.upper <= -band - half4);
  if (inside != 0) {
    cell.fill(__builtin_ctz(inside));
    return cell.keep(work, won, s, stored, near, close);
  }
  float lower[lanes];
  store(lower, view.lower);
  int m = __builtin_ctz(near);
  for (std::uint32_t rest = near & (near - 1); rest != 0; rest &= rest - 1) {
    const int other = __builtin_ctz(rest);
    if (lower[other] < lower[m]) m = other;
  }
  for (std::uint32_t left = near;; m = __builtin_ctz(left)) {
    if (!ask_simply(paths[m], view, f, at, m, cell)) {
      ask(paths[m], f, at, m, cell);
      ++work.evaluated;
    }
    left &= ~(1u << m);
    if (left == 0) break;
    left &= bits(view.lower < -cell.least + half4) & ~bits(batch.ruled_out(view, m, half4));
    if (left == 0) break;
  }
  return cell.any && cell.keep(work, won, s, stored, near, close);
}

// Which cells of a tile, by their places along each axis, lie within the band of the box about a
// chain's swept bodies: a bit each.
struct CellsInReach {
  std::uint32_t x = 0xFF, y = 0xFF, z = 0xFF;
  CellsInReach(const LocalSweep* sweeps, int motions, const TileFrame& f, float band) {
    if (!f.aligned) return;
    Span across, along, up;
    for (int m = 0; m < motions; ++m) {
      const LocalSweep& s = sweeps[m];
      const float r = s.profile->largest_radius;
      across.add(s.ax, s.ux * s.run, r, r);
      along.add(s.ay, s.uy * s.run, r, r);
      up.add(s.az, s.rise, 0.f, s.top);
    }
    x = across.cells_within(f.voxel, band);
    y = along.cells_within(f.voxel, band);
    z = up.cells_within(f.voxel, band);
  }
  // The eight cells of a block.
  std::uint32_t of(int block) const {
    const std::uint32_t i = x >> 2 * (block & 3) & 3, j = y >> 2 * (block >> 2 & 3) & 3,
                        k = z >> 2 * (block >> 4) & 3;
    const std::uint32_t level = ((j & 1) != 0 ? i : 0) | ((j & 2) != 0 ? i << 2 : 0);
    return ((k & 1) != 0 ? level : 0) | ((k & 2) != 0 ? level << 4 : 0);
  }

 private:
  struct Span {
    float low = 1e30f, high = -1e30f;
    void add(float from, float run, float below, float above) {
      const float to = from + run;
      low = std::min(low, std::min(from, to) - below);
      high = std::max(high, std::max(from, to) + above);
    }
    std::uint32_t cells_within(float voxel, float band) const {
      const float reach = band + 1.501f * voxel;
      std::uint32_t bits = 0;
      for (int p = 0; p < 8; ++p) {
        const float middle = (4.f * static_cast<float>(p) - 14.f) * voxel;
        bits |= static_cast<std::uint32_t>(middle + reach > low && middle - reach < high) << p;
      }
      return bits;
    }
  };
};

template <class Path>
static int chain_of_lane_batch(const Path* paths, int motions, const TileFrame& f,
                               const TileBounds& bounds, const CellsInReach& in_reach, float band,
                               const float* stored, ChainWork& work) {
  const LaneBatch<Path> batch(paths, motions);
  const std::uint32_t all = (1u << motions) - 1;
  const float half8 = 6.0622f * f.voxel;
  int won = 0;
  for (int b = 0; b < 64; ++b) {
    const float least = bounds.block_least[b];
    std::uint32_t cells = in_reach.of(b);
    if (least >= band || cells == 0) continue;
    const CellPlace at = cell_place(8 * b);
    const PlaceOfPoint middle = placed_point(f, at.i + 3.5f, at.j + 3.5f, at.k + 3.5f);
    const auto view = batch.view(middle.x, middle.y, middle.z, half8);
    const std::uint32_t near = all & bits(view.lower < -least + half8);
    if (near == 0) continue;
    for (; cells != 0; cells &= cells - 1) {
      const int s = 8 * b + __builtin_ctz(cells);
      if (bounds.least[s] >= band) continue;
      won += take_cell_by_batch(paths, batch, near, f, bounds, s, band, stored, won, work);
    }
  }
  return won;
}

static int chain_any(const LocalSweep* sweeps, int motions, const TileFrame& f,
                     const TileBounds& bounds, float band, const float* stored, ChainWork& work) {
  int won = 0;
  with_chain_path(sweeps[0], [&](const auto& path) {
    using Path = std::remove_cvref_t<decltype(path)>;
    const ChainPaths<Path> chain(sweeps, motions);
    const Path* paths = chain.paths;
    if constexpr (LaneBatch<Path>::exists)
      won = chain_of_lane_batch(paths, motions, f, bounds, CellsInReach(sweeps, motions, f, band),
                                band, stored, work);
    else
      won = chain_of(paths, motions, f, bounds, band, stored, work);
  });
  return won;
}

static void write_chain_any(const TileFrame& f, ChainWork& work, int count, float band,
                            std::int32_t first_id, float* stored, std::int32_t* made,
                            TileBounds& bounds) {
  for (int n = 0; n < count; ++n) {
    const int s = work.winners[n];
    Floats least = splat(band);
    for (int k = 0; k < 4; ++k) {
      std::int32_t* by = made + 64 * s + 16 * k;
      const Ints owner = load_ints(work.owner + 64 * n + 16 * k);
      store(by, select(owner != splat_int(-1), owner + splat_int(first_id), load_ints(by)));
      const Floats value = rounded_to_steps(f, -load(work.swept + 64 * n + 16 * k));
      store(stored + 64 * s + 16 * k, value);
      least = min(least, value);
    }
    bounds.least[s] = least_of(least);
    bound_cell(stored + 64 * s, f.voxel, s, bounds);
  }
}
