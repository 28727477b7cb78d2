// What a chain takes, attributed to its motions. Included by kernel_body.h.

// Whether a motion comes deeper than limit.
template <class Path, class Z>
PROVEOUT_INLINE Mask reaches(const Path& path, const Column& shared, Z z, float limit) {
  if constexpr (requires { path.below_limit(shared, z, limit); })
    return path.below_limit(shared, z, limit);
  else
    return path.at(shared, z) < limit;
}

// A plane of a cell where the tile lies along the setup's axes has one height.
template <class Path>
PROVEOUT_INLINE Mask reaches_plane(const Path& path, const Column& shared, const TileFrame& f,
                                   Floats z, float k) {
  return f.aligned ? reaches(path, shared, k * f.voxel, 0.f) : reaches(path, shared, z, 0.f);
}
template <class Path>
PROVEOUT_INLINE Floats plane_distance(const Path& path, const Column& shared, const TileFrame& f,
                                      Floats z, float k) {
  return f.aligned ? path.at(shared, k * f.voxel) : path.at(shared, z);
}

// Distance to an upright wall, whatever the height, and whether it is negative.
template <class Path>
PROVEOUT_INLINE Floats wall_distance(const Path& path, const Column& column) {
  if constexpr (requires { path.side_of(column); })
    return path.side_of(column);
  else
    return path.at(column, 0.f);
}
template <class Path>
PROVEOUT_INLINE Mask in_wall(const Path& path, const Column& column) {
  if constexpr (requires { path.within_side(column); })
    return path.within_side(column);
  else
    return wall_distance(path, column) < 0.f;
}

// The first motion of the chain that comes deeper than limit at each point, -1: none.
static void first_any(const LocalSweep* sweeps, int motions, const float* x, const float* y,
                      const float* z, int count, float limit, const std::int32_t* earliest,
                      std::int32_t* first) {
  with_chain_path(sweeps[0], [&](const auto& kind) {
    using Path = std::remove_cvref_t<decltype(kind)>;
    const ChainPaths<Path> chain(sweeps, motions);
    const Path* paths = chain.paths;
    for (int i = 0; i < count; i += lanes) {
      const Floats px = load(x + i), py = load(y + i), pz = load(z + i);
      Ints found = splat_int(-1);
      int from = motions;
      for (int n = i; n < i + lanes && n < count; ++n)
        from = earliest[n] < from ? earliest[n] : from;
      for (int m = from; m < motions; ++m) {
        const Column shared = paths[m].column(px, py);
        const Mask here = reaches(paths[m], shared, pz, limit) & (found == splat_int(-1));
        found = select(here, splat_int(m), found);
        if (bits(found == splat_int(-1)) == 0) break;
      }
      store(first + i, found);
    }
  });
}

// Volume by motion and lane, voxels * volume_scale. Between clearing and add_to come cells_at_once
// of four planes at most, each lane with a voxel, and what occupancy overshoots by: no lane
// overflows.
struct AttributedVolumes {
  static_assert(4 * EngagedVoxels::cells_at_once *
                    static_cast<std::int64_t>(EngagedVoxels::volume_scale) <
                INT32_MAX / 9 * 8);
  Ints by[ChainWork::most_motions];
  explicit AttributedVolumes(int motions) {
    for (int m = 0; m < motions; ++m) by[m] = splat_int(0);
  }
  PROVEOUT_INNER void add(int m, Ints volume) { by[m] = by[m] + volume; }
  PROVEOUT_INNER void add_to_owners(Ints volume, const std::int32_t* owner) {
    const Ints owners = load_ints(owner);
    for (std::uint32_t rest = bits(volume != splat_int(0)); rest != 0;) {
      const std::int32_t m = owner[__builtin_ctz(rest)];
      const Mask mine = owners == splat_int(m);
      add(m, mine & volume);
      rest &= ~bits(mine);
    }
  }
  void add_to(VolumeAttribution& attribution, int motions) const {
    for (int m = 0; m < motions; ++m) {
      std::int32_t lane[lanes];
      store(lane, by[m]);
      for (const std::int32_t some : lane) attribution.whole[m] += some;
    }
  }
};

// A plane of a cell that goes from deep inside the stock to far outside: sixteen whole voxels,
// each of the first motion that frees it, or where rounding finds none of its owner. wall: it
// stands for all four planes of an upright wall.
template <class Path>
PROVEOUT_INLINE void attribute_whole_plane(const Path* paths, const TileFrame& f, Floats i,
                                           Floats j, float k, std::uint32_t near, bool wall,
                                           const std::int32_t* owner, AttributedVolumes& sums) {
  const Ints voxel =
      splat_int((wall ? 4 : 1) * static_cast<std::int32_t>(EngagedVoxels::volume_scale));
  const Places p = placed(f, i, j, splat(k));
  Mask left = mask_of(true);
  for (; near != 0; near &= near - 1) {
    const int m = __builtin_ctz(near);
    const Column column = paths[m].column(p.x, p.y);
    const Mask here =
        left & (wall ? in_wall(paths[m], column) : reaches_plane(paths[m], column, f, p.z, k));
    sums.add(m, here & voxel);
    left = left ^ here;
    if (bits(left) == 0) return;
  }
  sums.add_to_owners(left & voxel, owner);
}

// A plane of a cell cut by motions of a few voxels: each takes what its own front passes, by
// how far the front comes into the voxel. What rounding leaves goes to the owner, so that the sum
// is what the plane loses, to the last bit. taken: of all planes it stands for.
template <class Path>
PROVEOUT_INLINE void attribute_plane_by_front(const Path* paths, const TileFrame& f, Floats i,
                                              Floats j, float k, std::uint32_t near, bool wall,
                                              Ints taken, Floats old, Floats now,
                                              const std::int32_t* owner, AttributedVolumes& sums) {
  const float per_voxel = 1.f / f.voxel, hair = 1e-4f;
  const Floats before = clamp(old * per_voxel + 0.5f, 0.f, 1.f),
               after = clamp(now * per_voxel + 0.5f, 0.f, 1.f);
  const Mask passed = after - before > 1e-3f;
  const Floats per_front =
      select(passed, to_floats(taken) / select(passed, after - before, splat(1.f)), zero());
  const Places p = placed(f, i, j, splat(k));
  Ints left = taken;
  Floats front = before;
  for (; near != 0 && bits(passed & (front < after - hair)) != 0; near &= near - 1) {
    const int m = __builtin_ctz(near);
    const Column column = paths[m].column(p.x, p.y);
    const Floats depth =
        -(wall ? wall_distance(paths[m], column) : plane_distance(paths[m], column, f, p.z, k));
    const Floats comes = min(max(clamp(depth * per_voxel + 0.5f, 0.f, 1.f), front), after);
    const Ints part = to_ints((comes - front) * per_front);
    front = comes;
    left = left - part;
    sums.add(m, part);
  }
  sums.add_to_owners(left, owner);
}

// The heights between which nothing of the floors and tops of a chain counts beside the walls, as
// far as volume goes; empty for bodies whose wall is not upright.
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

// Whether a cell is the same at all its heights, before and after: of a wall one plane stands for
// all.
PROVEOUT_INLINE bool upright(const UprightHeights& heights, const TileFrame& f, float k,
                             const float* old, const float* tool) {
  if (!f.aligned || k * f.voxel <= heights.low || (k + 3.f) * f.voxel >= heights.high) return false;
  const Floats first_old = load(old), first_tool = load(tool);
  Mask differs = mask_of(false);
  for (int n = 16; n < 64; n += 16) {
    differs = differs | (load(old + n) != first_old) | (load(tool + n) != first_tool);
  }
  return bits(differs) == 0;
}

// What a chain's winners take: account_any's, with the volume in attribution.
template <class Path>
static void account_chain_of(const LocalSweep* sweeps, int motions, const TileFrame& f,
                             const ChainWork& work, int first, int count, const float* stored,
                             float band, int sevenths, AttributionDetail detail,
                             EngagedVoxels& engaged, VolumeAttribution& attribution) {
  const Pattern pattern(sevenths);
  const ChainPaths<Path> chain(sweeps, motions);
  const Path* paths = chain.paths;
  AttributedVolumes sums(motions);
  const UprightHeights heights(paths, motions, f.voxel);
  const Floats inner_x = counting(0, 3), inner_y = counting(2, 3);
  for (int n = first; n < first + count; ++n) {
    const int s = work.winners[n], earliest = work.earliest[n];
    const std::uint32_t* sampled = pattern.of(s);
    const CellPlace at = cell_place(s);
    const Floats i = inner_x + at.i, j = inner_y + at.j;
    const bool alike = upright(heights, f, at.k, stored + 64 * s, work.swept + 64 * n);
    PlaneChange c;
    for (int k = 0; k < 4; ++k) {
      const float *old = stored + 64 * s + 16 * k, *tool = work.swept + 64 * n + 16 * k;
      const std::int32_t* owner = work.owner + 64 * n + 16 * k;
      if (k == 0 || !alike) c = plane_change(f, load(old), load(tool), band);
      if (c.worth == 0) continue;
      choose_sampled(c, sampled[4 * k], k == 0);
      const std::uint32_t listed = c.faces | c.owns;
      if (listed != 0) list_voxels(c, listed, 64 * s + 16 * k, old, tool, owner, earliest, engaged);
      const bool once = alike && (detail != AttributionDetail::coarse || c.whole);
      if (once && k != 0) continue;
      const float height = at.k + static_cast<float>(k);
      if (c.whole && detail != AttributionDetail::fine) {
        attribute_whole_plane(paths, f, i, j, height, work.near[n], once, owner, sums);
      } else if (detail == AttributionDetail::coarse) {
        attribute_plane(c, 64 * s + 16 * k, owner, earliest, attribution);
      } else {
        const Ints twice = c.taken + c.taken;
        attribute_plane_by_front(paths, f, i, j, height, work.near[n], once,
                                 once ? twice + twice : c.taken, load(old), min(-load(tool), band),
                                 owner, sums);
      }
    }
  }
  sums.add_to(attribution, motions);
}

static void account_chain_any(const LocalSweep* sweeps, int motions, const TileFrame& f,
                              const ChainWork& work, int first, int count, const float* stored,
                              float band, int sevenths, AttributionDetail detail,
                              EngagedVoxels& engaged, VolumeAttribution& attribution) {
  with_chain_path(sweeps[0], [&](const auto& path) {
    account_chain_of<std::remove_cvref_t<decltype(path)>>(sweeps, motions, f, work, first, count,
                                                          stored, band, sevenths, detail, engaged,
                                                          attribution);
  });
}
