// Crowds: a chain's motions seen from one place, a lane each. What may be left out is found for all
// of them at once. Included by kernel_body.h.
//
// A swept body is convex, so is its distance: a plane that touches it anywhere lies under it
// everywhere, and a piece's stored values lie over a plane of their own (TileBounds). Where the
// first can nowhere come over the second, the motion takes nothing from the piece.

template <class Path>
PROVEOUT_INLINE V of_all(const Path* paths, int motions, float Path::*member) {
  float v[lanes];
  for (int m = 0; m < lanes; ++m) v[m] = paths[m < motions ? m : 0].*member;
  return load(v);
}

// How much a plane of slope x, y, z told at a piece's middle can gain on the piece's own, mm.
PROVEOUT_INLINE V gain_on(const TileBounds& bounds, int s, V x, V y, V z, float voxel) {
  return (size_of(x - bounds.slope_x[s]) + size_of(y - bounds.slope_y[s]) +
          size_of(z - bounds.slope_z[s])) *
         (1.5f * voxel);
}

// Stored values that a motion could raise by less than this are left as they are.
PROVEOUT_INLINE V worth_raising(const TileBounds& bounds, int s, float voxel) {
  return splat(bounds.under[s] + 1e-5f * voxel);
}

template <class Path>
struct CrowdOf {
  static constexpr bool exists = false;
};

template <>
struct CrowdOf<BallRamp> {
  static constexpr bool exists = true;
  // lower, upper: bounds of the distance at the place. The point of each ball centre's path nearest
  // to it, how far away that is and its square.
  struct View {
    V lower, upper, x, y, z, away, squared;
    K below;  // the whole piece lies under the path, so that its points are what it is away from
  };
  V ax, ay, az, run_x, run_y, rise, per_run, slant_share, rise_share, lowest, highest;
  float radius;
  CrowdOf(const BallRamp* paths, int motions)
      : ax(of_all(paths, motions, &BallRamp::ax)),
        ay(of_all(paths, motions, &BallRamp::ay)),
        az(of_all(paths, motions, &BallRamp::az)),
        rise(of_all(paths, motions, &BallRamp::rise)),
        rise_share(of_all(paths, motions, &BallRamp::rise_share)),
        lowest(of_all(paths, motions, &BallRamp::lowest)),
        highest(of_all(paths, motions, &BallRamp::highest)),
        radius(paths[0].radius) {
    const V run = of_all(paths, motions, &BallRamp::run);
    run_x = run * of_all(paths, motions, &BallRamp::ux);
    run_y = run * of_all(paths, motions, &BallRamp::uy);
    per_run = 1.f / greater(run * run, 1e-20f);
    slant_share = of_all(paths, motions, &BallRamp::run_share) / greater(run, 1e-10f);
  }
  PROVEOUT_INNER View view(float px, float py, float pz, float reach) const {
    const V dx = px - ax, dy = py - ay, zc = pz - az;
    const V along = dx * run_x + dy * run_y;  // times run
    const V plan = within(along * per_run, 0.f, 1.f);
    const V gx = dx - plan * run_x, gy = dy - plan * run_y;
    const V beside = gx * gx + gy * gy;
    const V t = within(along * slant_share + zc * rise_share, 0.f, 1.f);
    View v;
    v.x = ax + t * run_x;
    v.y = ay + t * run_y;
    v.z = az + t * rise;
    const V ex = dx - t * run_x, ey = dy - t * run_y, ez = zc - t * rise;
    v.squared = ex * ex + ey * ey + ez * ez;
    v.below = zc + reach < lowest;
    // Above its path a ball reaches as far as seen from above.
    v.away = root(v.squared);
    const V to_plan = root(beside);
    const V over = pz - highest;
    v.lower = greater(pick(zc < lowest, v.away, to_plan) - radius, over);
    v.upper = greater(pick(zc >= plan * rise, to_plan, v.away) - radius, over);
    return v;
  }
  PROVEOUT_INNER K stays_under(const View& v, const TileBounds& bounds, int s, float px, float py,
                               float pz, float voxel) const {
    const V per = 1.f / greater(v.away, 1e-10f);
    const V gain = gain_on(bounds, s, (v.x - px) * per, (v.y - py) * per, (v.z - pz) * per, voxel);
    return v.below & ((radius - v.away) + gain <= worth_raising(bounds, s, voxel));
  }
  // Those with no point within reach of the place nearer to them than to motion `best`: with p = c
  // + v, x on the other's path at tau from its nearest point e to c and a the best's,
  // |p - x|^2 - |p - a|^2 = |c - x|^2 - |c - a|^2 + 2 v.(a - x), which is at least
  // |c - e|^2 + tau^2 - |c - a|^2 - 2 reach (|a - e| + tau).
  PROVEOUT_INNER K ruled_out(const View& v, int best, float reach) const {
    const V dx = v.x - lane_of(v.x, best), dy = v.y - lane_of(v.y, best),
            dz = v.z - lane_of(v.z, best);
    const V more = v.squared - (lane_of(v.squared, best) + reach * reach);
    return v.below & (more > 0.f) &
           (more * more >= (4.f * reach * reach) * (dx * dx + dy * dy + dz * dz));
  }
};

template <>
struct CrowdOf<CylinderRamp> {
  static constexpr bool exists = true;
  // The point of each path nearest to the place, seen from above.
  struct View {
    V lower, upper, x, y, away, squared;
    K covers;  // the lowest pose's floor is what the whole piece is away from
    K beside;  // the wall is
  };
  V ax, ay, az, run_x, run_y, rise, per_run, floor, highest, top, low_x, low_y;
  float radius, rim;
  CrowdOf(const CylinderRamp* paths, int motions)
      : ax(of_all(paths, motions, &CylinderRamp::ax)),
        ay(of_all(paths, motions, &CylinderRamp::ay)),
        az(of_all(paths, motions, &CylinderRamp::az)),
        rise(of_all(paths, motions, &CylinderRamp::rise)),
        radius(paths[0].radius),
        rim(paths[0].rim) {
    const V run = of_all(paths, motions, &CylinderRamp::run);
    run_x = run * of_all(paths, motions, &CylinderRamp::ux);
    run_y = run * of_all(paths, motions, &CylinderRamp::uy);
    per_run = 1.f / greater(run * run, 1e-20f);
    floor = az + lesser(rise, 0.f);
    highest = az + greater(rise, 0.f);
    top = highest + of_all(paths, motions, &CylinderRamp::top);
    const V low_end = of_all(paths, motions, &CylinderRamp::low_end);
    low_x = ax + low_end * run_x;
    low_y = ay + low_end * run_y;
  }
  PROVEOUT_INNER View view(float px, float py, float pz, float reach) const {
    const V dx = px - ax, dy = py - ay;
    const V t = within((dx * run_x + dy * run_y) * per_run, 0.f, 1.f);
    View v;
    v.x = ax + t * run_x;
    v.y = ay + t * run_y;
    const V ex = px - v.x, ey = py - v.y;
    v.squared = ex * ex + ey * ey;
    v.away = root(v.squared);
    const V side = v.away - radius;
    const V lx = px - low_x, ly = py - low_y, low_squared = lx * lx + ly * ly;
    const V under = floor - pz, over = pz - top;
    v.lower = greater(greater(side, under), over);
    // At the nearest pose, or at the lowest.
    v.upper = greater(
        lesser(greater(side, az + t * rise - pz), greater(root(low_squared) - radius, under)),
        over);
    const V least = radius + reach + (highest - pz + reach);
    const K far_below_top = pz + reach < floor + rim;
    v.beside = far_below_top & ((least <= 0.f) | (v.squared >= least * least));
    // rho + reach - R <= floor - z - reach
    const V room = radius - reach + (under - reach);
    v.covers = far_below_top & (room > 0.f) & (low_squared <= room * room);
    return v;
  }
  // No pose comes deeper than the nearest one's wall, none than the lowest one's floor.
  PROVEOUT_INNER K stays_under(const View& v, const TileBounds& bounds, int s, float px, float py,
                               float pz, float voxel) const {
    const V per = 1.f / greater(v.away, 1e-10f), none = zero();
    const V wall = gain_on(bounds, s, (v.x - px) * per, (v.y - py) * per, none, voxel);
    const V level = gain_on(bounds, s, none, none, splat(1.f), voxel);
    const V least = worth_raising(bounds, s, voxel);
    return ((radius - v.away) + wall <= least) | ((pz - floor) + level <= least);
  }
  PROVEOUT_INNER K ruled_out(const View& v, int best, float reach) const {
    const V dx = v.x - lane_of(v.x, best), dy = v.y - lane_of(v.y, best);
    const V more = v.squared - (lane_of(v.squared, best) + reach * reach);
    const K farther = (more > 0.f) & (more * more >= (4.f * reach * reach) * (dx * dx + dy * dy));
    K out = truths(false);
    if ((bits(v.covers) >> best & 1) != 0) out = out | (floor >= lane_of(floor, best));
    if ((bits(v.beside) >> best & 1) != 0) out = out | farther;
    return out;
  }
};
