// Chains: motions that follow each other in a tile, taken at once. Included by kernel_body.h.

#include "sim/stock/kernel_crowd.h"

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

// A piece while a chain's motions are asked: the largest of -distance so far, and whose it is.
struct PieceEnvelope {
  V value[4];
  M owner[4];
  const TileFrame& frame;
  float least, band;
  bool any = false;
  PROVEOUT_INNER PieceEnvelope(const TileFrame& f, const float* stored, float least_stored,
                               float most)
      : frame(f), least(least_stored), band(most) {
    for (int k = 0; k < 4; ++k) {
      value[k] = load(stored + 16 * k);
      owner[k] = numbers(-1);
    }
  }
  // Motion m comes as deep as `depth` in plane k.
  PROVEOUT_INNER K take(int k, V depth, int m) {
    const V now = lesser(depth, band);
    const K win = now > value[k];
    value[k] = pick(win, now, value[k]);
    owner[k] = pick(win, numbers(m), owner[k]);
    return win;
  }
  PROVEOUT_INNER void settle(K wins) {
    if (bits(wins) == 0) return;
    any = true;
    least = least_of(lesser(lesser(value[0], value[1]), lesser(value[2], value[3])));
  }
  PROVEOUT_INNER void fill(int m) {
    for (int k = 0; k < 4; ++k) {
      owner[k] = pick(value[k] < band, numbers(m), owner[k]);
      value[k] = splat(band);
    }
    least = band;
    any = true;
  }
  // Of the motions near, those in close come within a voxel of the piece: the others free nothing
  // of it. false: rounded to steps nothing changes.
  PROVEOUT_INNER bool keep(ChainWork& work, int won, int s, const float* stored, std::uint32_t near,
                           std::uint32_t close) const {
    work.near[won] = near & close;
    work.earliest[won] = __builtin_ctz((near & close) != 0 ? near & close : near);
    K wins = truths(false);
    for (int k = 0; k < 4; ++k) {
      const V old = load(stored + 64 * s + 16 * k);
      const K win = kept(frame, value[k]) > old;
      wins = wins | win;
      save(work.swept + 64 * won + 16 * k, -pick(win, value[k], old));
      save(work.owner + 64 * won + 16 * k, pick(win, owner[k], numbers(-1)));
    }
    work.winners[won] = static_cast<std::uint16_t>(s);
    return bits(wins) != 0;
  }
};

// Asks one motion at all places of a piece.
template <class Path>
PROVEOUT_INLINE void ask(const Path& path, const TileFrame& f, const PiecePlace& at, int m,
                         PieceEnvelope& piece) {
  K wins = truths(false);
  if (!f.aligned) {
    over_piece(path, f, at, [&](int k, V d) { wins = wins | piece.take(k, -d, m); });
  } else {
    const V i = counting(0, 3) + at.i, j = counting(2, 3) + at.j;
    const Column shared = path.column(i * f.voxel, j * f.voxel);
#pragma GCC unroll 4
    for (int k = 0; k < 4; ++k) {
      wins = wins | piece.take(k, -path.at(shared, (at.k + static_cast<float>(k)) * f.voxel), m);
    }
  }
  piece.settle(wins);
}

// The largest of -distance over the motions, and whose it is. Each piece asks its nearest motions
// first: the others then mostly cannot add.
template <class Path>
static int chain_of(const Path* paths, int motions, const TileFrame& f, const TileBounds& bounds,
                    float band, const float* stored, ChainWork& work) {
  // Which motions may reach which piece, by piece, nearest first.
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
      // Each piece's nearest motion comes first, the others in their order.
      const int s = work.list[i], from = first_of[s], at = fill[s]++;
      const ChainWork::Reach here{work.centre[i], m};
      if (at > from && here.centre < work.by_piece[from].centre) {
        work.by_piece[at] = work.by_piece[from];
        work.by_piece[from] = here;
      } else {
        work.by_piece[at] = here;
      }
    }
  }
  const float half4 = 2.5981f * f.voxel;
  int won = 0;
  for (int s = 0; s < 512; ++s) {
    if (first_of[s] == first_of[s + 1]) continue;
    const PiecePlace at = piece_place(s);
    PieceEnvelope piece(f, stored + 64 * s, bounds.least[s], band);
    std::uint32_t near = 0, close = 0;
    for (int c = first_of[s]; c < first_of[s + 1]; ++c) {
      const auto [centre, m] = work.by_piece[c];
      near |= 1u << m;
      close |= static_cast<std::uint32_t>(centre < half4 + f.voxel) << m;
    }
    for (int c = first_of[s]; c < first_of[s + 1] && piece.least < band; ++c) {
      const auto [centre, m] = work.by_piece[c];
      if (centre - half4 >= -piece.least) continue;
      if (centre + half4 <= -band) {  // all inside the tool
        piece.fill(m);
        break;
      }
      ask(paths[m], f, at, m, piece);
      ++work.evaluated;
    }
    if (piece.any && piece.keep(work, won, s, stored, near, close)) ++won;
  }
  return won;
}

// A level floor or an upright wall all over the piece is told once for all its heights. Deeper than
// the band the body's top could count, but no such value is kept.
template <class Path, class View>
PROVEOUT_INLINE bool ask_simply(const Path& path, const View& view, const TileFrame& f,
                                const PiecePlace& at, int m, PieceEnvelope& piece) {
  if constexpr (requires { view.covers; }) {
    if (!f.aligned) return false;
    if ((bits(view.covers) >> m & 1) != 0) {
      K wins = truths(false);
      for (int k = 0; k < 4; ++k) {
        const float up = (at.k + static_cast<float>(k)) * f.voxel - path.floor();
        wins = wins | piece.take(k, splat(up), m);
      }
      piece.settle(wins);
      return true;
    }
    if ((bits(view.beside) >> m & 1) != 0 && path.rim > piece.band) {
      const V i = counting(0, 3) + at.i, j = counting(2, 3) + at.j;
      const V depth = -path.side_of(path.column(i * f.voxel, j * f.voxel));
      K wins = truths(false);
      for (int k = 0; k < 4; ++k) wins = wins | piece.take(k, depth, m);
      piece.settle(wins);
      return true;
    }
  }
  return false;
}

// The same for a piece of a chain whose motions are seen all at once. Returns whether it wins.
template <class Path>
PROVEOUT_INLINE bool crowd_at(const Path* paths, const CrowdOf<Path>& crowd, std::uint32_t motions,
                              const TileFrame& f, const TileBounds& bounds, int s, float band,
                              const float* stored, int won, ChainWork& work) {
  const float half4 = 2.5981f * f.voxel, least = bounds.least[s];
  const PiecePlace at = piece_place(s);
  const PlaceOfPoint middle = placed_point(f, at.i + 1.5f, at.j + 1.5f, at.k + 1.5f);
  const auto view = crowd.view(middle.x, middle.y, middle.z, half4);
  std::uint32_t near = motions & bits(view.lower < -least + half4);
  if (near != 0 && f.aligned) {
    near &= ~bits(crowd.stays_under(view, bounds, s, middle.x, middle.y, middle.z, f.voxel));
  }
  if (near == 0) return false;
  const std::uint32_t close = bits(view.lower < half4 + f.voxel);
  PieceEnvelope piece(f, stored + 64 * s, least, band);
  const std::uint32_t inside = near & bits(view.upper <= -band - half4);
  if (inside != 0) {
    piece.fill(__builtin_ctz(inside));
    return piece.keep(work, won, s, stored, near, close);
  }
  float lower[lanes];
  save(lower, view.lower);
  int m = __builtin_ctz(near);
  for (std::uint32_t rest = near & (near - 1); rest != 0; rest &= rest - 1) {
    const int other = __builtin_ctz(rest);
    if (lower[other] < lower[m]) m = other;
  }
  for (std::uint32_t left = near;; m = __builtin_ctz(left)) {
    if (!ask_simply(paths[m], view, f, at, m, piece)) {
      ask(paths[m], f, at, m, piece);
      ++work.evaluated;
    }
    left &= ~(1u << m);
    if (left == 0) break;
    left &= bits(view.lower < -piece.least + half4) & ~bits(crowd.ruled_out(view, m, half4));
    if (left == 0) break;
  }
  return piece.any && piece.keep(work, won, s, stored, near, close);
}

// Which pieces of a tile, by their places along each axis, lie within the band of the box about a
// chain's swept bodies: a bit each.
struct PiecesInReach {
  std::uint32_t x = 0xFF, y = 0xFF, z = 0xFF;
  PiecesInReach(const LocalSweep* sweeps, int motions, const TileFrame& f, float band) {
    if (!f.aligned) return;
    Span across, along, up;
    for (int m = 0; m < motions; ++m) {
      const LocalSweep& s = sweeps[m];
      const float r = s.profile->largest_radius;
      across.add(s.ax, s.ux * s.run, r, r);
      along.add(s.ay, s.uy * s.run, r, r);
      up.add(s.az, s.rise, 0.f, s.top);
    }
    x = across.within(f.voxel, band);
    y = along.within(f.voxel, band);
    z = up.within(f.voxel, band);
  }
  // The eight pieces of a block.
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
    std::uint32_t within(float voxel, float band) const {
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
static int chain_of_crowd(const Path* paths, int motions, const TileFrame& f,
                          const TileBounds& bounds, const PiecesInReach& in_reach, float band,
                          const float* stored, ChainWork& work) {
  const CrowdOf<Path> crowd(paths, motions);
  const std::uint32_t all = (1u << motions) - 1;
  const float half8 = 6.0622f * f.voxel;
  int won = 0;
  for (int b = 0; b < 64; ++b) {
    const float least = bounds.block_least[b];
    std::uint32_t pieces = in_reach.of(b);
    if (least >= band || pieces == 0) continue;
    const PiecePlace at = piece_place(8 * b);
    const PlaceOfPoint middle = placed_point(f, at.i + 3.5f, at.j + 3.5f, at.k + 3.5f);
    const auto view = crowd.view(middle.x, middle.y, middle.z, half8);
    const std::uint32_t near = all & bits(view.lower < -least + half8);
    if (near == 0) continue;
    for (; pieces != 0; pieces &= pieces - 1) {
      const int s = 8 * b + __builtin_ctz(pieces);
      if (bounds.least[s] >= band) continue;
      won += crowd_at(paths, crowd, near, f, bounds, s, band, stored, won, work);
    }
  }
  return won;
}

static int chain_any(const LocalSweep* sweeps, int motions, const TileFrame& f,
                     const TileBounds& bounds, float band, const float* stored, ChainWork& work) {
  int won = 0;
  with_path(sweeps[0], [&](const auto& path) {
    using Path = std::remove_cvref_t<decltype(path)>;
    const ChainPaths<Path> chain(sweeps, motions);
    const Path* paths = chain.paths;
    if constexpr (CrowdOf<Path>::exists)
      won = chain_of_crowd(paths, motions, f, bounds, PiecesInReach(sweeps, motions, f, band), band,
                           stored, work);
    else
      won = chain_of(paths, motions, f, bounds, band, stored, work);
  });
  return won;
}

// Whether a motion comes deeper than limit.
template <class Path, class Z>
PROVEOUT_INLINE K reaches(const Path& path, const Column& shared, Z z, float limit) {
  if constexpr (requires { path.below_limit(shared, z, limit); })
    return path.below_limit(shared, z, limit);
  else
    return path.at(shared, z) < limit;
}

// A plane of a piece where the tile lies along the setup's axes has one height.
template <class Path>
PROVEOUT_INLINE K reaches_plane(const Path& path, const Column& shared, const TileFrame& f, V z,
                                float k) {
  return f.aligned ? reaches(path, shared, k * f.voxel, 0.f) : reaches(path, shared, z, 0.f);
}
template <class Path>
PROVEOUT_INLINE V plane_distance(const Path& path, const Column& shared, const TileFrame& f, V z,
                                 float k) {
  return f.aligned ? path.at(shared, k * f.voxel) : path.at(shared, z);
}

// Distance to an upright wall, whatever the height, and whether it is negative.
template <class Path>
PROVEOUT_INLINE V wall_distance(const Path& path, const Column& column) {
  if constexpr (requires { path.side_of(column); })
    return path.side_of(column);
  else
    return path.at(column, 0.f);
}
template <class Path>
PROVEOUT_INLINE K in_wall(const Path& path, const Column& column) {
  if constexpr (requires { path.within_side(column); })
    return path.within_side(column);
  else
    return wall_distance(path, column) < 0.f;
}

// The first motion of the chain that comes deeper than limit at each point, -1: none.
static void first_any(const LocalSweep* sweeps, int motions, const float* x, const float* y,
                      const float* z, int count, float limit, const std::int32_t* earliest,
                      std::int32_t* first) {
  with_path(sweeps[0], [&](const auto& kind) {
    using Path = std::remove_cvref_t<decltype(kind)>;
    const ChainPaths<Path> chain(sweeps, motions);
    const Path* paths = chain.paths;
    for (int i = 0; i < count; i += lanes) {
      const V px = load(x + i), py = load(y + i), pz = load(z + i);
      M found = numbers(-1);
      int from = motions;
      for (int n = i; n < i + lanes && n < count; ++n)
        from = earliest[n] < from ? earliest[n] : from;
      for (int m = from; m < motions; ++m) {
        const Column shared = paths[m].column(px, py);
        const K here = reaches(paths[m], shared, pz, limit) & (found == numbers(-1));
        found = pick(here, numbers(m), found);
        if (bits(found == numbers(-1)) == 0) break;
      }
      save(first + i, found);
    }
  });
}

// Volume by motion and lane, voxels * volume_scale. Sixteen pieces of four planes at most between
// clearing and add_to: no lane overflows.
struct ShareSums {
  static_assert(4 * MetVoxels::pieces_at_once * static_cast<std::int64_t>(MetVoxels::volume_scale) <
                INT32_MAX);
  M by[ChainWork::most_motions];
  explicit ShareSums(int motions) {
    for (int m = 0; m < motions; ++m) by[m] = numbers(0);
  }
  PROVEOUT_INNER void add(int m, M volume) { by[m] = by[m] + volume; }
  PROVEOUT_INNER void add_to_owners(M volume, const std::int32_t* owner) {
    const M owners = load_as<M>(owner);
    for (std::uint32_t rest = bits(volume != numbers(0)); rest != 0;) {
      const std::int32_t m = owner[__builtin_ctz(rest)];
      const K mine = owners == numbers(m);
      add(m, mine & volume);
      rest &= ~bits(mine);
    }
  }
  void add_to(VolumeShares& shares, int motions) const {
    for (int m = 0; m < motions; ++m) {
      std::int32_t lane[lanes];
      save(lane, by[m]);
      for (const std::int32_t some : lane) shares.whole[m] += some;
    }
  }
};

// A plane of a piece that goes from deep inside the stock to far outside: sixteen whole voxels,
// each of the first motion that frees it, or where rounding finds none of its owner. wall: it
// stands for all four planes of an upright wall.
template <class Path>
PROVEOUT_INLINE void share_whole_plane(const Path* paths, const TileFrame& f, V i, V j, float k,
                                       std::uint32_t near, bool wall, const std::int32_t* owner,
                                       ShareSums& sums) {
  const M voxel = numbers((wall ? 4 : 1) * static_cast<std::int32_t>(MetVoxels::volume_scale));
  const Places p = placed(f, i, j, splat(k));
  K left = truths(true);
  for (; near != 0; near &= near - 1) {
    const int m = __builtin_ctz(near);
    const Column column = paths[m].column(p.x, p.y);
    const K here =
        left & (wall ? in_wall(paths[m], column) : reaches_plane(paths[m], column, f, p.z, k));
    sums.add(m, here & voxel);
    left = left ^ here;
    if (bits(left) == 0) return;
  }
  sums.add_to_owners(left & voxel, owner);
}

// The same for the four planes of a piece that all go.
template <class Path>
PROVEOUT_INLINE void share_whole_piece(const Path* paths, const TileFrame& f, V i, V j, float k,
                                       std::uint32_t near, const std::int32_t* owner,
                                       ShareSums& sums) {
  const M voxel = numbers(static_cast<std::int32_t>(MetVoxels::volume_scale));
  K left[4];
  for (K& plane : left) plane = truths(true);
  for (; near != 0; near &= near - 1) {
    const int m = __builtin_ctz(near);
    const Column column = paths[m].column(i * f.voxel, j * f.voxel);
    M part = numbers(0);
    K rest = truths(false);
    for (int n = 0; n < 4; ++n) {
      const float level = (k + static_cast<float>(n)) * f.voxel;
      const K here = left[n] & reaches(paths[m], column, level, 0.f);
      part = part + (here & voxel);
      left[n] = left[n] ^ here;
      rest = rest | left[n];
    }
    sums.add(m, part);
    if (bits(rest) == 0) return;
  }
  for (int n = 0; n < 4; ++n) sums.add_to_owners(left[n] & voxel, owner + 16 * n);
}

// A plane of a piece cut by motions of a few voxels: each takes what its own front passes, told by
// how far the front comes into the voxel. What rounding leaves goes to the owner, so that the sum
// is what the plane loses, to the last bit. taken: of all planes it stands for.
template <class Path>
PROVEOUT_INLINE void share_plane_by_front(const Path* paths, const TileFrame& f, V i, V j, float k,
                                          std::uint32_t near, bool wall, M taken, V old, V now,
                                          const std::int32_t* owner, ShareSums& sums) {
  const float per_voxel = 1.f / f.voxel, hair = 1e-4f;
  const V before = within(old * per_voxel + 0.5f, 0.f, 1.f),
          after = within(now * per_voxel + 0.5f, 0.f, 1.f);
  const K passed = after - before > 1e-3f;
  const V per_front =
      pick(passed, as_floats(taken) / pick(passed, after - before, splat(1.f)), zero());
  const Places p = placed(f, i, j, splat(k));
  M left = taken;
  V front = before;
  for (; near != 0 && bits(passed & (front < after - hair)) != 0; near &= near - 1) {
    const int m = __builtin_ctz(near);
    const Column column = paths[m].column(p.x, p.y);
    const V depth =
        -(wall ? wall_distance(paths[m], column) : plane_distance(paths[m], column, f, p.z, k));
    const V comes = lesser(greater(within(depth * per_voxel + 0.5f, 0.f, 1.f), front), after);
    const M part = whole((comes - front) * per_front);
    front = comes;
    left = left - part;
    sums.add(m, part);
  }
  sums.add_to_owners(left, owner);
}

// The heights between which nothing of the floors and tops of a chain counts beside the walls, as
// far as it tells of volume; empty for bodies whose wall is not upright.
struct UprightHeights {
  float low = 1e30f, high = -1e30f;
  template <class Path>
  UprightHeights(const Path* paths, int motions, float voxel) {
    if constexpr (requires { paths->wall_low(); }) {
      low = -1e30f, high = 1e30f;
      for (int m = 0; m < motions; ++m) {
        low = paths[m].wall_low() > low ? paths[m].wall_low() : low;
        high = paths[m].wall_high() < high ? paths[m].wall_high() : high;
      }
      low += 0.5f * voxel;
      high -= 0.5f * voxel;
    }
  }
};

// Whether a piece is the same at all its heights, before and after: of a wall one plane tells all.
PROVEOUT_INLINE bool upright(const UprightHeights& heights, const TileFrame& f, float k,
                             const float* old, const float* tool) {
  if (!f.aligned || k * f.voxel <= heights.low || (k + 3.f) * f.voxel >= heights.high) return false;
  const V first_old = load(old), first_tool = load(tool);
  K differs = truths(false);
  for (int n = 16; n < 64; n += 16) {
    differs = differs | (load(old + n) != first_old) | (load(tool + n) != first_tool);
  }
  return bits(differs) == 0;
}

// What a chain's winners take: account_any's, with the volume in shares.
template <class Path>
static void account_chain_of(const LocalSweep* sweeps, int motions, const TileFrame& f,
                             const ChainWork& work, int first, int count, const float* stored,
                             float band, int sevenths, Sharing sharing, MetVoxels& met,
                             VolumeShares& shares) {
  const Pattern pattern(sevenths);
  const ChainPaths<Path> chain(sweeps, motions);
  const Path* paths = chain.paths;
  ShareSums sums(motions);
  const UprightHeights heights(paths, motions, f.voxel);
  const V inner_x = counting(0, 3), inner_y = counting(2, 3);
  for (int n = first; n < first + count; ++n) {
    const int s = work.winners[n], earliest = work.earliest[n];
    const std::uint32_t* told = pattern.of(s);
    const PiecePlace at = piece_place(s);
    const V i = inner_x + at.i, j = inner_y + at.j;
    const bool alike = upright(heights, f, at.k, stored + 64 * s, work.swept + 64 * n);
    const bool all = goes_whole(f, stored + 64 * s, work.swept + 64 * n, band);
    const bool shared = all && f.aligned && !alike && sharing != Sharing::fine;
    if (shared) {
      share_whole_piece(paths, f, i, j, at.k, work.near[n], work.owner + 64 * n, sums);
    }
    PlaneChange c;
    if (all) c = whole_plane();
    for (int k = 0; k < 4; ++k) {
      const float *old = stored + 64 * s + 16 * k, *tool = work.swept + 64 * n + 16 * k;
      const std::int32_t* owner = work.owner + 64 * n + 16 * k;
      if (!all && (k == 0 || !alike)) c = plane_change(f, load(old), load(tool), band);
      if (c.worth == 0) continue;
      choose_told(c, told[4 * k], k == 0);
      const std::uint32_t listed = c.faces | c.owns;
      if (listed != 0) list_voxels(c, listed, 64 * s + 16 * k, old, tool, owner, earliest, met);
      const bool once = alike && (sharing != Sharing::coarse || c.whole);
      if (shared || (once && k != 0)) continue;
      const float height = at.k + static_cast<float>(k);
      if (c.whole && sharing != Sharing::fine) {
        share_whole_plane(paths, f, i, j, height, work.near[n], once, owner, sums);
      } else if (sharing == Sharing::coarse) {
        share_plane(c, 64 * s + 16 * k, owner, earliest, shares);
      } else {
        const M twice = c.taken + c.taken;
        share_plane_by_front(paths, f, i, j, height, work.near[n], once,
                             once ? twice + twice : c.taken, load(old), lesser(-load(tool), band),
                             owner, sums);
      }
    }
  }
  sums.add_to(shares, motions);
}

static void account_chain_any(const LocalSweep* sweeps, int motions, const TileFrame& f,
                              const ChainWork& work, int first, int count, const float* stored,
                              float band, int sevenths, Sharing sharing, MetVoxels& met,
                              VolumeShares& shares) {
  with_path(sweeps[0], [&](const auto& path) {
    account_chain_of<std::remove_cvref_t<decltype(path)>>(
        sweeps, motions, f, work, first, count, stored, band, sevenths, sharing, met, shares);
  });
}

static void write_chain_any(const TileFrame& f, ChainWork& work, int count, float band,
                            std::int32_t first_id, float* stored, std::int32_t* made,
                            TileBounds& bounds) {
  for (int n = 0; n < count; ++n) {
    const int s = work.winners[n];
    V least = splat(band);
    for (int k = 0; k < 4; ++k) {
      std::int32_t* by = made + 64 * s + 16 * k;
      const M owner = load_as<M>(work.owner + 64 * n + 16 * k);
      save(by, pick(owner != numbers(-1), owner + numbers(first_id), load_as<M>(by)));
      const V value = kept(f, -load(work.swept + 64 * n + 16 * k));
      save(stored + 64 * s + 16 * k, value);
      least = lesser(least, value);
    }
    bounds.least[s] = least_of(least);
    bound_piece(stored + 64 * s, f.voxel, s, bounds);
  }
}
