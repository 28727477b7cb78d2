// Lane batches: a chain's motions seen from one place, a lane each. What may be left out is found
// for all of them at once. Included by kernel_body.h.
//
// A swept body is convex, so is its distance: a plane that touches it anywhere lies under it
// everywhere, and a cell's stored values lie over a plane of their own (TileBounds). Where the
// first can nowhere come over the second, the motion takes nothing from the cell.

template <class Path>
PROVEOUT_INLINE Floats of_all(const Path* paths, int motions, float Path::*member) {
  float v[lanes];
  for (int m = 0; m < lanes; ++m) v[m] = paths[m < motions ? m : 0].*member;
  return load(v);
}

// How much a plane of slope x, y, z taken at a cell's middle can gain on the cell's own, mm.
PROVEOUT_INLINE Floats gain_on(const TileBounds& bounds, int s, Floats x, Floats y, Floats z,
                               float voxel) {
  return (abs(x - bounds.slope_x[s]) + abs(y - bounds.slope_y[s]) + abs(z - bounds.slope_z[s])) *
         (1.5f * voxel);
}

// Stored values that a motion could raise by less than this are left as they are.
PROVEOUT_INLINE Floats worth_raising(const TileBounds& bounds, int s, float voxel) {
  return splat(bounds.under[s] + 1e-5f * voxel);
}

template <class Path>
struct LaneBatch {
  static constexpr bool exists = false;
};

template <>
struct LaneBatch<BallRamp> {
  static constexpr bool exists = true;
  // lower, upper: bounds of the distance at the place. The point of each ball centre's path nearest
  // to it, how far away that is and its square.
  struct View {
    Floats lower, upper, x, y, z, away, squared;
    Mask below;  // the whole cell lies under the path, so that its points are what it is away from
  };
  Floats ax, ay, az, run_x, run_y, rise, per_run, slant_share, rise_share, lowest, highest;
  float radius;
  LaneBatch(const BallRamp* paths, int motions)
      : ax(of_all(paths, motions, &BallRamp::ax)),
        ay(of_all(paths, motions, &BallRamp::ay)),
        az(of_all(paths, motions, &BallRamp::az)),
        rise(of_all(paths, motions, &BallRamp::rise)),
        rise_share(of_all(paths, motions, &BallRamp::rise_share)),
        lowest(of_all(paths, motions, &BallRamp::lowest)),
        highest(of_all(paths, motions, &BallRamp::highest)),
        radius(paths[0].radius) {
    const Floats run = of_all(paths, motions, &BallRamp::run);
    run_x = run * of_all(paths, motions, &BallRamp::ux);
    run_y = run * of_all(paths, motions, &BallRamp::uy);
    per_run = 1.f / max(run * run, 1e-20f);
    slant_share = of_all(paths, motions, &BallRamp::run_share) / max(run, 1e-10f);
  }
  PROVEOUT_INNER View view(float px, float py, float pz, float reach) const {
    const Floats dx = px - ax, dy = py - ay, zc = pz - az;
    const Floats along = dx * run_x + dy * run_y;  // times run
    const Floats plan = clamp(along * per_run, 0.f, 1.f);
    const Floats gx = dx - plan * run_x, gy = dy - plan * run_y;
    const Floats beside = gx * gx + gy * gy;
    const Floats t = clamp(along * slant_share + zc * rise_share, 0.f, 1.f);
    View v;
    v.x = ax + t * run_x;
    v.y = ay + t * run_y;
    v.z = az + t * rise;
    const Floats ex = dx - t * run_x, ey = dy - t * run_y, ez = zc - t * rise;
    v.squared = ex * ex + ey * ey + ez * ez;
    v.below = zc + reach < lowest;
    // Above its path a ball reaches as far as seen from above.
    v.away = sqrt(v.squared);
    const Floats to_plan = sqrt(beside);
    const Floats over = pz - highest;
    v.lower = max(select(zc < lowest, v.away, to_plan) - radius, over);
    v.upper = max(select(zc >= plan * rise, to_plan, v.away) - radius, over);
    return v;
  }
  PROVEOUT_INNER Mask stays_under(const View& v, const TileBounds& bounds, int s, float px,
                                  float py, float pz, float voxel) const {
    const Floats per = 1.f / max(v.away, 1e-10f);
    const Floats gain =
        gain_on(bounds, s, (v.x - px) * per, (v.y - py) * per, (v.z - pz) * per, voxel);
    return v.below & ((radius - v.away) + gain <= worth_raising(bounds, s, voxel));
  }
  // Those with no point within reach of the place nearer to them than to motion `best`: with p = c
  // + v, x on the other's path at tau from its nearest point e to c and a the best's,
  // |p - x|^2 - |p - a|^2 = |c - x|^2 - |c - a|^2 + 2 v.(a - x), which is at least
  // |c - e|^2 + tau^2 - |c - a|^2 - 2 reach (|a - e| + tau).
  PROVEOUT_INNER Mask ruled_out(const View& v, int best, float reach) const {
    const Floats dx = v.x - lane_of(v.x, best), dy = v.y - lane_of(v.y, best),
                 dz = v.z - lane_of(v.z, best);
    const Floats more = v.squared - (lane_of(v.squared, best) + reach * reach);
    return v.below & (more > 0.f) &
           (more * more >= (4.f * reach * reach) * (dx * dx + dy * dy + dz * dz));
  }
};

template <>
struct LaneBatch<CylinderRamp> {
  static constexpr bool exists = true;
  // The point of each path nearest to the place, seen from above.
  struct View {
    Floats lower, upper, x, y, away, squared;
    Mask covers;  // the lowest pose's floor is what the whole cell is away from
    Mask beside;  // the wall is
  };
  Floats ax, ay, az, run_x, run_y, rise, per_run, floor, highest, top, low_x, low_y;
  float radius, rim;
  LaneBatch(const CylinderRamp* paths, int motions)
      : ax(of_all(paths, motions, &CylinderRamp::ax)),
        ay(of_all(paths, motions, &CylinderRamp::ay)),
        az(of_all(paths, motions, &CylinderRamp::az)),
        rise(of_all(paths, motions, &CylinderRamp::rise)),
        radius(paths[0].radius),
        rim(paths[0].rim) {
    const Floats run = of_all(paths, motions, &CylinderRamp::run);
    run_x = run * of_all(paths, motions, &CylinderRamp::ux);
    run_y = run * of_all(paths, motions, &CylinderRamp::uy);
    per_run = 1.f / max(run * run, 1e-20f);
    floor = az + min(rise, 0.f);
    highest = az + max(rise, 0.f);
    top = highest + of_all(paths, motions, &CylinderRamp::top);
    const Floats low_end = of_all(paths, motions, &CylinderRamp::low_end);
    low_x = ax + low_end * run_x;
    low_y = ay + low_end * run_y;
  }
  PROVEOUT_INNER View view(float px, float py, float pz, float reach) const {
    const Floats dx = px - ax, dy = py - ay;
    const Floats t = clamp((dx * run_x + dy * run_y) * per_run, 0.f, 1.f);
    View v;
    v.x = ax + t * run_x;
    v.y = ay + t * run_y;
    const Floats ex = px - v.x, ey = py - v.y;
    v.squared = ex * ex + ey * ey;
    v.away = sqrt(v.squared);
    const Floats side = v.away - radius;
    const Floats lx = px - low_x, ly = py - low_y, low_squared = lx * lx + ly * ly;
    const Floats under = floor - pz, over = pz - top;
    v.lower = max(max(side, under), over);
    // At the nearest pose, or at the lowest.
    v.upper = max(min(max(side, az + t * rise - pz), max(sqrt(low_squared) - radius, under)), over);
    const Floats least = radius + reach + (highest - pz + reach);
    const Mask far_below_top = pz + reach < floor + rim;
    v.beside = far_below_top & ((least <= 0.f) | (v.squared >= least * least));
    // rho + reach - R <= floor - z - reach
    const Floats room = radius - reach + (under - reach);
    v.covers = far_below_top & (room > 0.f) & (low_squared <= room * room);
    return v;
  }
  // No pose comes deeper than the nearest one's wall, none than the lowest one's floor.
  PROVEOUT_INNER Mask stays_under(const View& v, const TileBounds& bounds, int s, float px,
                                  float py, float pz, float voxel) const {
    const Floats per = 1.f / max(v.away, 1e-10f), none = zero();
    const Floats wall = gain_on(bounds, s, (v.x - px) * per, (v.y - py) * per, none, voxel);
    const Floats level = gain_on(bounds, s, none, none, splat(1.f), voxel);
    const Floats least = worth_raising(bounds, s, voxel);
    return ((radius - v.away) + wall <= least) | ((pz - floor) + level <= least);
  }
  PROVEOUT_INNER Mask ruled_out(const View& v, int best, float reach) const {
    const Floats dx = v.x - lane_of(v.x, best), dy = v.y - lane_of(v.y, best);
    const Floats more = v.squared - (lane_of(v.squared, best) + reach * reach);
    const Mask farther =
        (more > 0.f) & (more * more >= (4.f * reach * reach) * (dx * dx + dy * dy));
    Mask out = mask_of(false);
    if ((bits(v.covers) >> best & 1) != 0) out = out | (floor >= lane_of(floor, best));
    if ((bits(v.beside) >> best & 1) != 0) out = out | farther;
    return out;
  }
};
