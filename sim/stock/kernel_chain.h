// Chains: motions that follow each other in a tile, taken at once. Included by kernel_body.h.

// The largest of -distance over the motions, and whose it is. Each piece asks its nearest motions
// first: the others then mostly cannot add.
template <class Path>
static int chain_of(const LocalSweep* sweeps, int motions, const TileFrame& f,
                    const TileBounds& bounds, float band, const float* stored, ChainWork& work) {
  using Standing = typename Path::Standing;
  alignas(Path) unsigned char room[ChainWork::most_motions * sizeof(Path)];
  Path* paths = reinterpret_cast<Path*>(room);
  for (int m = 0; m < motions; ++m) new (paths + m) Path(sweeps[m]);

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

  const V inner_x = counting(0, 3), inner_y = counting(2, 3);
  const float half4 = 2.5981f * f.voxel;
  int won = 0;
  for (int s = 0; s < 512; ++s) {
    if (first_of[s] == first_of[s + 1]) continue;
    const PiecePlace at = piece_place(s);
    const V i = inner_x + at.i, j = inner_y + at.j;
    const PlaceOfPoint middle = placed_point(f, at.i + 1.5f, at.j + 1.5f, at.k + 1.5f);
    V value[4];
    M owner[4];
    for (int k = 0; k < 4; ++k) {
      value[k] = load(stored + 64 * s + 16 * k);
      owner[k] = numbers(-1);
    }
    float least = bounds.least[s];
    bool any = false;
    // Motion m comes as deep as `now` in plane k.
    [[maybe_unused]] const auto take = [&](int k, V now, int m) {
      const M win = now > value[k];
      any = any || bits(win) != 0;
      value[k] = pick(win, now, value[k]);
      owner[k] = pick(win, numbers(m), owner[k]);
    };
    [[maybe_unused]] const auto least_of_all = [&] {
      return least_of(lesser(lesser(value[0], value[1]), lesser(value[2], value[3])));
    };
    constexpr int most_standing = 4;
    [[maybe_unused]] Standing standing[most_standing];
    [[maybe_unused]] int standings = 0;
    std::int32_t earliest = motions;
    for (int c = first_of[s]; c < first_of[s + 1]; ++c) {
      if (work.by_piece[c].centre - half4 >= -least) continue;
      const int m = work.by_piece[c].motion;
      if (work.by_piece[c].centre + half4 <= -band) {  // all inside the tool
        for (int k = 0; k < 4; ++k) {
          owner[k] = pick(value[k] < band, numbers(m), owner[k]);
          value[k] = splat(band);
        }
        least = band;
        any = true;
        break;
      }
      const Path& path = paths[m];
      if constexpr (Standing::rules) {
        const Standing here = path.standing(middle.x, middle.y, middle.z, half4);
        bool ruled_out = false;
        for (int b = 0; b < standings; ++b) {
          ruled_out = ruled_out || Path::rules_out(standing[b], here, half4);
        }
        if (ruled_out) continue;
        if (standings < most_standing) standing[standings++] = here;
        if (f.aligned && here.covers) {  // a level floor all over the piece
          for (int k = 0; k < 4; ++k) {
            const float up = (at.k + static_cast<float>(k)) * f.voxel - here.floor;
            take(k, splat(up < band ? up : band), m);
          }
          least = least_of_all();
          if (least >= band) break;
          continue;
        }
        // The wall all over the piece: one distance for all four heights. Deeper than the band the
        // body's top could count, but no such value is kept.
        if constexpr (Path::has_wall) {
          if (f.aligned && here.beside && path.rim > band) {
            const V now = lesser(-path.side_of(path.column(i * f.voxel, j * f.voxel)), band);
            for (int k = 0; k < 4; ++k) take(k, now, m);
            least = least_of_all();
            if (least >= band) break;
            continue;
          }
        }
      }
      Column shared;
      if (f.aligned) shared = path.column(i * f.voxel, j * f.voxel);
      M wins = numbers(0);
      V low = splat(band);
      for (int k = 0; k < 4; ++k) {
        const float height = at.k + static_cast<float>(k);
        V d;
        if (f.aligned) {
          d = path.at(shared, height * f.voxel);
        } else {
          const Places p = placed(f, i, j, splat(height));
          d = path.at(path.column(p.x, p.y), p.z);
        }
        const V now = lesser(-d, band);
        const M win = now > value[k];
        value[k] = pick(win, now, value[k]);
        owner[k] = pick(win, numbers(m), owner[k]);
        wins = wins | win;
        low = lesser(low, value[k]);
      }
      ++work.evaluated;
      if (bits(wins) == 0) continue;
      any = true;
      least = least_of(low);
      if (least >= band) break;
    }
    if (!any) continue;
    for (int c = first_of[s]; c < first_of[s + 1]; ++c) {
      if (work.by_piece[c].motion < earliest) earliest = work.by_piece[c].motion;
    }
    work.earliest[won] = earliest;
    for (int k = 0; k < 4; ++k) {
      save(work.swept + 64 * won + 16 * k, -value[k]);
      save(work.owner + 64 * won + 16 * k, owner[k]);
    }
    work.least[won] = least;
    work.winners[won++] = static_cast<std::uint16_t>(s);
  }
  return won;
}

static int chain_any(const LocalSweep* sweeps, int motions, const TileFrame& f,
                     const TileBounds& bounds, float band, const float* stored, ChainWork& work) {
  int won = 0;
  with_path(sweeps[0], [&](const auto& path) {
    won = chain_of<std::remove_cvref_t<decltype(path)>>(sweeps, motions, f, bounds, band, stored,
                                                        work);
  });
  return won;
}

// Whether a motion comes deeper than limit.
template <class Path>
PROVEOUT_INLINE M reaches(const Path& path, const Column& shared, V z, float limit) {
  if constexpr (requires { path.below_limit(shared, z, limit); })
    return path.below_limit(shared, z, limit);
  else
    return path.at(shared, z) < limit;
}

// The first motion of the chain that comes deeper than limit at each point, -1: none.
static void first_any(const LocalSweep* sweeps, int motions, const float* x, const float* y,
                      const float* z, int count, float limit, const std::int32_t* earliest,
                      std::int32_t* first) {
  with_path(sweeps[0], [&](const auto& kind) {
    using Path = std::remove_cvref_t<decltype(kind)>;
    alignas(Path) unsigned char room[ChainWork::most_motions * sizeof(Path)];
    Path* paths = reinterpret_cast<Path*>(room);
    for (int m = 0; m < motions; ++m) new (paths + m) Path(sweeps[m]);
    for (int i = 0; i < count; i += lanes) {
      const V px = load(x + i), py = load(y + i), pz = load(z + i);
      M found = numbers(-1);
      int from = motions;
      for (int n = i; n < i + lanes && n < count; ++n)
        from = earliest[n] < from ? earliest[n] : from;
      for (int m = from; m < motions; ++m) {
        const Column shared = paths[m].column(px, py);
        const M here = reaches(paths[m], shared, pz, limit) & (found == numbers(-1));
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
  static_assert(MetVoxels::most / 16 * static_cast<std::int64_t>(MetVoxels::volume_scale) <
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
      const M mine = owners == numbers(m);
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
// each of the first motion that frees it, or where rounding finds none of its owner. planes: so
// many alike.
template <class Path>
PROVEOUT_INLINE void share_whole_plane(const Path* paths, int motions, const TileFrame& f, V i, V j,
                                       float k, int earliest, int planes, const std::int32_t* owner,
                                       ShareSums& sums) {
  const M voxel = numbers(planes * static_cast<std::int32_t>(MetVoxels::volume_scale));
  const Places p = placed(f, i, j, splat(k));
  M left = numbers(-1);
  for (int m = earliest; m < motions; ++m) {
    const M here = left & reaches(paths[m], paths[m].column(p.x, p.y), p.z, 0.f);
    sums.add(m, here & voxel);
    left = left ^ here;
    if (bits(left) == 0) return;
  }
  sums.add_to_owners(left & voxel, owner);
}

// A plane of a piece cut by motions of a few voxels: each takes what its own front passes, told by
// how far the front comes into the voxel. What rounding leaves goes to the owner, so that the sum
// is what the plane loses, to the last bit. taken: of all planes it stands for.
template <class Path>
PROVEOUT_INLINE void share_plane_by_front(const Path* paths, int motions, const TileFrame& f, V i,
                                          V j, float k, int earliest, M taken, V old, V now,
                                          const std::int32_t* owner, ShareSums& sums) {
  const float per_voxel = 1.f / f.voxel, hair = 1e-4f;
  const V before = within(old * per_voxel + 0.5f, 0.f, 1.f),
          after = within(now * per_voxel + 0.5f, 0.f, 1.f);
  const M passed = after - before > 1e-3f;
  const V per_front =
      pick(passed, as_floats(taken) / pick(passed, after - before, splat(1.f)), zero());
  const Places p = placed(f, i, j, splat(k));
  M left = taken;
  V front = before;
  for (int m = earliest; m < motions && bits(passed & (front < after - hair)) != 0; ++m) {
    const V depth = -paths[m].at(paths[m].column(p.x, p.y), p.z);
    const V comes = lesser(greater(within(depth * per_voxel + 0.5f, 0.f, 1.f), front), after);
    const M part = whole((comes - front) * per_front);
    front = comes;
    left = left - part;
    sums.add(m, part);
  }
  sums.add_to_owners(left, owner);
}

// Whether a piece is the same at all its heights, before and after: a wall, of which one plane
// tells all. Each motion's own depth must not change with height either.
template <class Path>
PROVEOUT_INLINE bool upright(const Path* paths, int motions, const TileFrame& f, float k,
                             const float* old, const float* tool) {
  if constexpr (requires { paths->only_wall(0.f, 0.f, 0.f); }) {
    if (!f.aligned) return false;
    const float low = k * f.voxel, high = (k + 3.f) * f.voxel, half = 0.5f * f.voxel;
    for (int m = 0; m < motions; ++m) {
      if (!paths[m].only_wall(low, high, half)) return false;
    }
    const V first_old = load(old), first_tool = load(tool);
    M differs = numbers(0);
    for (int n = 16; n < 64; n += 16) {
      differs = differs | (load(old + n) != first_old) | (load(tool + n) != first_tool);
    }
    return bits(differs) == 0;
  } else {
    return false;
  }
}

// What a chain's winners take: account_any's, with the volume in shares.
template <class Path>
static void account_chain_of(const LocalSweep* sweeps, int motions, const TileFrame& f,
                             const ChainWork& work, int first, int count, const float* stored,
                             float band, int sevenths, Sharing sharing, MetVoxels& met,
                             VolumeShares& shares) {
  const Pattern pattern(sevenths);
  alignas(Path) unsigned char room[ChainWork::most_motions * sizeof(Path)];
  Path* paths = reinterpret_cast<Path*>(room);
  for (int m = 0; m < motions; ++m) new (paths + m) Path(sweeps[m]);
  ShareSums sums(motions);
  const V inner_x = counting(0, 3), inner_y = counting(2, 3);
  for (int n = first; n < first + count; ++n) {
    const int s = work.winners[n], earliest = work.earliest[n];
    const PiecePlace at = piece_place(s);
    const V i = inner_x + at.i, j = inner_y + at.j;
    const bool alike =
        upright(paths, motions, f, at.k, stored + 64 * s, work.swept + 64 * n);
    PlaneChange c;
    for (int k = 0; k < 4; ++k) {
      const float *old = stored + 64 * s + 16 * k, *tool = work.swept + 64 * n + 16 * k;
      const std::int32_t* owner = work.owner + 64 * n + 16 * k;
      if (k == 0 || !alike) c = plane_change(load(old), load(tool), band, f.voxel);
      if (c.worth == 0) continue;
      choose_told(c, pattern.of(s, k), k == 0);
      const std::uint32_t listed = c.faces | c.owns;
      if (listed != 0) list_voxels(c, listed, 64 * s + 16 * k, old, tool, owner, earliest, met);
      const bool once = alike && (sharing != Sharing::coarse || c.whole);
      if (once && k != 0) continue;
      const float height = at.k + static_cast<float>(k);
      if (c.whole && sharing != Sharing::fine) {
        share_whole_plane(paths, motions, f, i, j, height, earliest, once ? 4 : 1, owner, sums);
      } else if (sharing == Sharing::coarse) {
        share_plane(c, 64 * s + 16 * k, owner, earliest, shares);
      } else {
        const M twice = c.taken + c.taken;
        share_plane_by_front(paths, motions, f, i, j, height, earliest,
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

static void write_chain_any(ChainWork& work, int count, float band, std::int32_t first_id,
                            float* stored, std::int32_t* made, TileBounds& bounds) {
  for (int n = 0; n < count; ++n) {
    const int s = work.winners[n];
    for (int k = 0; k < 4; ++k) {
      std::int32_t* by = made + 64 * s + 16 * k;
      const M owner = load_as<M>(work.owner + 64 * n + 16 * k);
      save(by, pick(owner != numbers(-1), owner + numbers(first_id), load_as<M>(by)));
      save(stored + 64 * s + 16 * k, -load(work.swept + 64 * n + 16 * k));
    }
    bounds.least[s] = work.least[n] < band ? work.least[n] : band;
  }
}
