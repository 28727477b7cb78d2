// Signed distance to a swept body: meridians (the body's outline) and the paths it is swept along.
// Included by kernel_body.h. Notation of sweep.h: rho from the axis, h above the foot.

// ---- meridians: signed distance in the half plane rho >= 0. top: the body's height.

struct RoundedMeridian {
  float core, corner, top, clear;
  explicit RoundedMeridian(const LocalSweep& s)
      : core(s.profile->core), corner(s.profile->corner), top(s.top), clear(s.top - 64 * s.voxel) {}
  PROVEOUT_INLINE Floats side(const RoundedMeridian& r, Floats rho, Floats h) {
    const Floats a = rho - r.core, b = r.corner - h;
    const Floats a0 = max(a, 0.f), b0 = max(b, 0.f);
    return sqrt(a0 * a0 + b0 * b0) + min(max(a, b), 0.f) - r.corner;
  }
  PROVEOUT_INNER Floats operator()(Floats rho, Floats h) const {
    const Floats beside = side(*this, rho, h);
    const Floats over = h - top;
    // Above the top edge the distance is to the rim; beside it the larger of both, exact outside.
    const Floats so = max(beside, 0.f), oo = max(over, 0.f);
    return select(over > 0.f, sqrt(so * so + oo * oo), max(beside, over));
  }
  // The same for one height; far below the top nothing of the top counts.
  PROVEOUT_INNER Floats operator()(Floats rho, float h) const {
    return h < clear ? side(*this, rho, splat(h)) : (*this)(rho, splat(h));
  }
};

// A plain cylinder, and convex polygons below: the largest of the distances to their faces. Near a
// sharp rim that is less than the distance to the rim itself, with the same zero set. It is chosen
// on purpose: a rim cut this way and the edge max() leaves at the surface smear their volumes by
// equal and opposite amounts, so the two cancel (docs/engine.md, volume).
struct SharpMeridian {
  float radius, top;
  explicit SharpMeridian(const LocalSweep& s) : radius(s.profile->core), top(s.top) {}
  PROVEOUT_INNER Floats operator()(Floats rho, Floats h) const {
    return max(max(rho - radius, -h), h - top);
  }
  PROVEOUT_INNER Floats operator()(Floats rho, float h) const {
    return max(rho - radius, splat(-h > h - top ? -h : h - top));
  }
};

struct ConvexMeridian {
  const ProfileEdge *first, *end;
  float stretch, top;
  explicit ConvexMeridian(const LocalSweep& s)
      : first(s.profile->edges.data()),
        end(first + s.profile->edges.size()),
        stretch(s.top - s.profile->top),
        top(s.profile->top) {}
  PROVEOUT_APART Floats operator()(Floats rho, Floats h) const {
    Floats most = splat(-1e30f);
    for (const ProfileEdge* e = first; e != end; ++e) {
      const float lift = e->h0 >= top ? stretch : 0.f;
      most = max(most, (rho - e->r0) * e->nr + (h - e->h0 - lift) * e->nh);
    }
    return most;
  }
  PROVEOUT_INNER Floats operator()(Floats rho, float h) const { return (*this)(rho, splat(h)); }
};

struct PolygonMeridian {
  const ProfileEdge *first, *end;
  float stretch, top;  // a plunge makes the body taller: heights above the widest are moved up
  bool has_foot = false, has_lid = false;  // of a piece: what closes it towards the axis
  explicit PolygonMeridian(const LocalSweep& s)
      : first(s.profile->edges.data()),
        end(first + s.profile->edges.size()),
        stretch(s.top - s.profile->top),
        top(s.profile->top) {}
  // One convex piece of a body (profile_pieces.h).
  PolygonMeridian(const ProfileEdge* from, const ProfileEdge* to, float body_top)
      : first(from),
        end(to),
        stretch(0.f),
        top(body_top),
        has_foot(from->r0 > 0.f),
        has_lid((to - 1)->r1 > 0.f) {}
  PROVEOUT_APART Floats operator()(Floats rho, Floats h) const {
    Floats nearest = splat(1e30f);
    Mask inside = mask_of(false);
    for (const ProfileEdge* e = first; e != end; ++e) {
      const float r0 = e->r0, r1 = e->r1;
      const float h0 = e->h0 >= top ? e->h0 + stretch : e->h0;
      const float h1 = e->h1 >= top ? e->h1 + stretch : e->h1;
      const float dr = r1 - r0, dh = h1 - h0;
      const Floats t = ((rho - r0) * dr + (h - h0) * dh) / (dr * dr + dh * dh);
      const Floats c = clamp(t, 0.f, 1.f);
      const Floats er = rho - (r0 + c * dr), eh = h - (h0 + c * dh);
      nearest = min(nearest, er * er + eh * eh);
      const Mask crosses = (splat(h0) <= h) ^ (splat(h1) <= h);
      const float up = dh > 0 ? 1.f : -1.f;
      inside = inside ^ (crosses & ((rho - r0) * dh * up < (h - h0) * dr * up));
    }
    const auto disc = [&](float radius, float height) {
      const Floats er = max(rho - radius, 0.f), eh = h - height;
      nearest = min(nearest, er * er + eh * eh);
    };
    if (has_foot) disc(first->r0, first->h0);
    if (has_lid) disc((end - 1)->r1, (end - 1)->h1);
    const Floats distance = sqrt(nearest);
    return select(inside, -distance, distance);
  }
  PROVEOUT_INNER Floats operator()(Floats rho, float h) const { return (*this)(rho, splat(h)); }
};

template <class Meridian>
inline constexpr bool is_polygon = false;
template <>
inline constexpr bool is_polygon<PolygonMeridian> = true;

// ---- paths. column() does what all heights of a column share, at() the rest.

struct Column {
  Floats a, b;
};

template <class Meridian>
struct LevelLine {
  Meridian meridian;
  float ax, ay, az, ux, uy, run;
  explicit LevelLine(const LocalSweep& s)
      : meridian(s), ax(s.ax), ay(s.ay), az(s.az), ux(s.ux), uy(s.uy), run(s.run) {}
  PROVEOUT_INNER Column column(Floats x, Floats y) const {
    const Floats dx = x - ax, dy = y - ay;
    const Floats along = clamp(dx * ux + dy * uy, 0.f, run);
    const Floats ex = dx - along * ux, ey = dy - along * uy;
    return {sqrt(ex * ex + ey * ey), zero()};
  }
  template <class Z>
  PROVEOUT_INNER Floats at(const Column& c, Z z) const {
    return meridian(c.a, z - az);
  }
};

// |p - centre| - radius without cancellation: with e = p - q, q on the circle, n its outward
// normal, x = n.e + k|e|^2/2 gives 2x / (1 + sqrt(1 + 2 k x)).
template <class Meridian>
struct LevelArc {
  Meridian meridian;
  LocalArc arc;
  float az;
  explicit LevelArc(const LocalSweep& s) : meridian(s), arc(s.arc), az(s.az) {}
  PROVEOUT_INNER Column column(Floats x, Floats y) const {
    const Floats dx = x - arc.qx, dy = y - arc.qy;
    const Floats m = arc.nx * dx + arc.ny * dy + 0.5f * arc.curvature * (dx * dx + dy * dy);
    const Floats square = sqrt(max(1.f + 2.f * arc.curvature * m, 0.f));
    const Floats on_circle = 2.f * m / (1.f + square);
    const Floats fx = x - arc.sx, fy = y - arc.sy, gx = x - arc.ex, gy = y - arc.ey;
    const Mask after_start = fx * arc.stx + fy * arc.sty >= 0.f;
    const Mask before_end = gx * arc.etx + gy * arc.ety <= 0.f;
    const Mask all = mask_of(true);
    const Mask inside = arc.full       ? all
                        : arc.long_arc ? (after_start | before_end)
                                       : (after_start & before_end);
    const Floats to_ends = sqrt(min(fx * fx + fy * fy, gx * gx + gy * gy));
    return {select(inside, abs(on_circle), to_ends), zero()};
  }
  template <class Z>
  PROVEOUT_INNER Floats at(const Column& c, Z z) const {
    return meridian(c.a, z - az);
  }
};

// Horizontal place of a column along and across a straight motion.
PROVEOUT_INLINE Column along_across(Floats x, Floats y, float ax, float ay, float ux, float uy) {
  const Floats dx = x - ax, dy = y - ay;
  return {dx * ux + dy * uy, dy * ux - dx * uy};
}

// Ball on a straight ramp: the swept core is a strip in the vertical plane of the motion, open
// upwards.
struct BallRamp {
  float ax, ay, az, ux, uy, run, rise, radius, highest, clear;
  float run_share, rise_share, slope, lowest;
  explicit BallRamp(const LocalSweep& s)
      : ax(s.ax),
        ay(s.ay),
        az(s.az + s.profile->corner),
        ux(s.ux),
        uy(s.uy),
        run(s.run),
        rise(s.rise),
        radius(s.profile->corner),
        highest(s.az + (s.rise > 0.f ? s.rise : 0.f) + s.top),
        clear(highest - 64 * s.voxel) {
    const float squared = run * run + rise * rise;
    run_share = run / squared;
    rise_share = rise / squared;
    slope = run > 0.f ? rise / run : 0.f;
    lowest = rise < 0.f ? rise : 0.f;
  }
  PROVEOUT_INNER Column column(Floats x, Floats y) const {
    const Column c = along_across(x, y, ax, ay, ux, uy);
    return {c.a, c.b * c.b};
  }
  PROVEOUT_INNER Floats at(const Column& c, Floats z) const { return max(side(c, z), z - highest); }
  PROVEOUT_INNER Floats at(const Column& c, float z) const {
    const Floats beside = side(c, z);
    return z < clear ? beside : max(beside, splat(z - highest));
  }
  template <class Z>
  PROVEOUT_INNER Floats side(const Column& c, Z z) const {
    return sqrt(squared(c, z)) - radius;
  }
  // Whether the distance is below limit, without its root.
  PROVEOUT_INNER Mask below_limit(const Column& c, Floats z, float limit) const {
    const float reach = radius + limit;
    return (squared(c, z) < reach * reach) & (z - highest < limit);
  }
  PROVEOUT_INNER Mask below_limit(const Column& c, float z, float limit) const {
    const float reach = radius + limit;
    const Mask within_reach = squared(c, z) < reach * reach;
    return z - highest < limit ? within_reach : mask_of(false);
  }
  // Square of the distance to the strip.
  PROVEOUT_INNER Floats squared(const Column& c, Floats z) const {
    const Floats zc = z - az;  // height over the ball's centre at the start
    const Floats t = clamp(c.a * run_share + zc * rise_share, 0.f, 1.f);
    const Floats eu = c.a - t * run, ez = zc - t * rise;
    const Floats to_edge = eu * eu + ez * ez;
    const Floats uc = clamp(c.a, 0.f, run);
    const Floats lower = run > 0.f ? uc * slope : splat(lowest);
    const Floats beside = c.a - uc;
    const Floats below = max(lower - zc, 0.f);
    // Beside or above the strip's lower edge: horizontal distance, and what lies below it.
    const Floats square = beside * beside;
    const Floats under = select(beside != 0.f, min(to_edge, square + below * below), to_edge);
    return select(below == 0.f, square, under) + c.b;
  }
  // The same, but for rounding, for a whole plane: under the path the strip's lower edge is what is
  // nearest.
  PROVEOUT_INNER Floats squared(const Column& c, float z) const {
    const float zc = z - az;
    if (zc >= lowest) return squared(c, splat(z));
    const Floats t = clamp(c.a * run_share + zc * rise_share, 0.f, 1.f);
    const Floats eu = c.a - t * run, ez = zc - t * rise;
    return eu * eu + ez * ez + c.b;
  }
};

struct LeastPose {
  Floats value, pose;
};

template <class F>
PROVEOUT_INLINE LeastPose least_by_golden_section(F at) {
  // Convex in the pose: golden section, then the better end of what is left.
  const float shrink = 0.61803399f;
  Floats lo = zero(), hi = splat(1.f);
  Floats t1 = hi - shrink * (hi - lo), t2 = lo + shrink * (hi - lo);
  Floats f1 = at(t1), f2 = at(t2);
  for (int i = 0; i < 22; ++i) {
    const Mask left = f1 < f2;
    hi = select(left, t2, hi);
    lo = select(left, lo, t1);
    const Floats next = select(left, hi - shrink * (hi - lo), lo + shrink * (hi - lo));
    const Floats f = at(next);
    const Floats t1_old = t1, f1_old = f1;
    t1 = select(left, next, t2);
    f1 = select(left, f, f2);
    t2 = select(left, t1_old, next);
    f2 = select(left, f1_old, f);
  }
  const Floats first = at(zero()), last = at(splat(1.f));
  const Floats ends = min(first, last), between = min(f1, f2);
  return {min(ends, between), select(between < ends, select(f1 < f2, t1, t2),
                                     select(first < last, zero(), splat(1.f)))};
}

// The least distance over all poses, and where on the meridian the point lies at that pose.
struct Least {
  Floats value, rho, h;
};

// The same of a hollow body, which may be left and met again on the way: each of its convex pieces
// has one least distance. Outside that of the nearest piece is exact; within, where pieces meet,
// the whole reaches deeper at the same pose. The sign is right everywhere.
template <class LeastOf>
PROVEOUT_INLINE Floats least_by_pieces(const PolygonMeridian& whole, LeastOf least_of) {
  Least best{splat(1e30f), zero(), zero()};
  for (const ProfileEdge* from = whole.first; from != whole.end;) {
    const ProfileEdge* const to = end_of_piece(from, whole.end);
    if (has_height(from, to)) {
      const Least found = least_of(PolygonMeridian(from, to, whole.top));
      const Mask nearer = found.value < best.value;
      best.value = select(nearer, found.value, best.value);
      best.rho = select(nearer, found.rho, best.rho);
      best.h = select(nearer, found.h, best.h);
    }
    from = to;
  }
  return min(best.value, whole(best.rho, best.h));
}

// On a ramp or curve the best single pose understates depth and, at a sharp rim, distance: near the
// surface the value is divided by the length of its own slope, which makes it a distance to first
// order.
template <class F>
PROVEOUT_INLINE Floats to_distance(Floats v, float near, float step, Mask concerned, F value_at) {
  const Mask close = (v <= near) & (v >= -near) & concerned;
  if (bits(close) == 0) return v;
  const Floats ga = value_at(step, 0.f, 0.f) - value_at(-step, 0.f, 0.f);
  const Floats gb = value_at(0.f, step, 0.f) - value_at(0.f, -step, 0.f);
  const Floats gz = value_at(0.f, 0.f, step) - value_at(0.f, 0.f, -step);
  const Floats slope = sqrt(ga * ga + gb * gb + gz * gz) / (2.f * step);
  return select(close & (slope > 0.3f) & (slope < 1.f), v / slope, v);
}

template <class Meridian>
struct Ramp {
  Meridian meridian;
  float ax, ay, az, ux, uy, run, rise, near, probe, rim;
  explicit Ramp(const LocalSweep& s)
      : meridian(s),
        ax(s.ax),
        ay(s.ay),
        az(s.az),
        ux(s.ux),
        uy(s.uy),
        run(s.run),
        rise(s.rise),
        near(s.near),
        probe(s.probe),
        rim(0.5f * s.top) {}
  PROVEOUT_INNER Column column(Floats x, Floats y) const {
    return along_across(x, y, ax, ay, ux, uy);
  }
  PROVEOUT_INNER Floats at(const Column& c, float z) const { return at(c, splat(z)); }
  PROVEOUT_APART Floats at(const Column& c, Floats z) const {
    const auto value = [&](Floats along, Floats across, Floats height) {
      const Floats across2 = across * across;
      const auto rho_at = [&](Floats t) {
        const Floats du = along - t * run;
        return sqrt(du * du + across2);
      };
      const auto least = [&](const Meridian& body) {
        return least_by_golden_section(
            [&](Floats t) { return body(rho_at(t), height - (az + t * rise)); });
      };
      if constexpr (is_polygon<Meridian>) {
        return least_by_pieces(meridian, [&](const Meridian& piece) {
          const LeastPose at = least(piece);
          return Least{at.value, rho_at(at.pose), height - (az + at.pose * rise)};
        });
      } else {
        return least(meridian).value;
      }
    };
    // Only the foot's rim needs it; at the rim of the body's top it would cut what is not there.
    return to_distance(
        value(c.a, c.b, z), near, probe, z - az <= rim,
        [&](float ea, float eb, float ez) { return value(c.a + ea, c.b + eb, z + ez); });
  }
};

// A plain cylinder on a ramp: the least over the pose t of max(side, under), side = rho(t) - R and
// under = foot(t) - z. Where rho is least the side may be the larger: then that is it. Else going
// down the ramp lowers the value until the end, or until both are equal: (R - z + az + rise t)^2 =
// (along - run t)^2 + across^2.
struct CylinderRamp {
  float radius, top, ax, ay, az, ux, uy, run, rise, near, rim;
  float a, per_a, per_run, down, low_end;
  explicit CylinderRamp(const LocalSweep& s)
      : radius(s.profile->core),
        top(s.top),
        ax(s.ax),
        ay(s.ay),
        az(s.az),
        ux(s.ux),
        uy(s.uy),
        run(s.run),
        rise(s.rise),
        near(s.near),
        rim(0.5f * s.top),
        a(run * run - rise * rise),
        per_a(a != 0.f ? 1.f / a : 0.f),
        per_run(run > 0.f ? 1.f / run : 0.f),
        down(rise < 0.f ? 1.f : -1.f),
        low_end(rise < 0.f ? 1.f : 0.f) {}
  PROVEOUT_INNER Column column(Floats x, Floats y) const {
    const Column c = along_across(x, y, ax, ay, ux, uy);
    return {c.a, c.b * c.b};
  }
  // Height of the lowest pose's foot.
  PROVEOUT_INNER float floor() const { return az + (rise < 0.f ? rise : 0.f); }
  // Distance to the wall, the same at all heights.
  PROVEOUT_INNER Floats side_of(const Column& c, Floats t0) const {
    const Floats d0 = c.a - t0 * run;
    return sqrt(d0 * d0 + c.b) - radius;
  }
  PROVEOUT_INNER Floats side_of(const Column& c) const {
    return side_of(c, clamp(c.a * per_run, 0.f, 1.f));
  }
  // Above the one, below the other, nothing of floor and top counts beside the wall.
  PROVEOUT_INNER float wall_low() const { return az + greater_of(rise, 0.f); }
  PROVEOUT_INNER float wall_high() const { return az + top; }
  PROVEOUT_INNER Mask within_side(const Column& c) const {
    const Floats d0 = c.a - clamp(c.a * per_run, 0.f, 1.f) * run;
    return d0 * d0 + c.b < radius * radius;
  }
  // Whether the distance is below limit, without the distance: the poses that reach the column are
  // an interval, and of these the one furthest down the ramp reaches lowest.
  PROVEOUT_INNER Mask below_limit(const Column& c, Floats z, float limit) const {
    const float reach = radius + limit;
    const Floats room = reach * reach - c.b;
    const Floats half = sqrt(max(room, 0.f));
    const Floats from = c.a - half, to = c.a + half;
    const Floats lowest = az + clamp((rise < 0.f ? to : from) * per_run, 0.f, 1.f) * rise;
    return (room > 0.f) & (from <= splat(run)) & (to >= 0.f) & (lowest - z < limit) &
           (z - (az + top + greater_of(rise, 0.f)) < limit);
  }
  PROVEOUT_INNER Mask below_limit(const Column& c, float z, float limit) const {
    return below_limit(c, splat(z), limit);
  }
  PROVEOUT_INNER Floats at(const Column& c, float z) const { return at(c, splat(z)); }
  PROVEOUT_INNER Floats at(const Column& c, Floats z) const {
    const Floats below = az - z;
    const Floats t0 = clamp(c.a * per_run, 0.f, 1.f);
    const Floats side = side_of(c, t0);
    // Level: what follows would come to the larger of both, bit for bit.
    if (rise == 0.f) return max(max(side, below), z - (az + top));
    const Floats de = c.a - low_end * run;
    const Floats end_side = sqrt(de * de + c.b) - radius;
    const Floats under = below + rise * t0, end_under = below + rise * low_end;
    const Floats over = z - (az + top + greater_of(rise, 0.f));
    // Where nothing meets between the ends that is all.
    const Mask settled = (side >= under) | (end_side <= end_under);
    if (bits(settled) == all_lanes) return max(select(side >= under, side, end_under), over);
    // The root on the downhill side of t0, both without cancellation.
    const Floats q = radius + below;
    const Floats b = -(c.a * run + q * rise);  // half of the linear term
    const Floats k = c.a * c.a + c.b - q * q;
    const Floats square = sqrt(max(b * b - a * k, 0.f));
    const Floats w = -(b + select(b >= 0.f, square, -square));
    const Floats far = splat(1e30f);
    const Floats t1 = a != 0.f ? w * per_a : far, t2 = select(w != 0.f, k / w, far);
    const Floats start = t0 * down;
    const Floats s1 = select(t1 * down >= start, t1 * down, far),
                 s2 = select(t2 * down >= start, t2 * down, far);
    const Floats t = clamp(min(s1, s2) * down, 0.f, 1.f);
    const Floats both = below + rise * t;
    // The slope there is that of l side + (1 - l) under whose change along t vanishes.
    const Floats rho = max(radius + both, 1e-9f);
    const Floats toward = (c.a - t * run) * run / rho;
    const Floats l = clamp(rise / (rise + toward), 0.f, 1.f);
    const Floats slope = sqrt(l * l + (1.f - l) * (1.f - l));
    const Mask close = (both <= near) & (both >= -near) & (z - az <= rim);
    const Floats meet = select(close, both / slope, both);
    const Floats v = select(side >= under, side, select(end_side <= end_under, end_under, meet));
    // The top's height follows the pose; the highest bounds them all.
    return max(v, over);
  }
  static PROVEOUT_INNER float greater_of(float p, float q) { return p > q ? p : q; }
};

// Any curve, as poses with parabolas through three neighbours; only poses near the local origin are
// tried.
template <class Meridian>
struct Table {
  Meridian meridian;
  const LocalSweep& s;
  explicit Table(const LocalSweep& sweep) : meridian(sweep), s(sweep) {}
  PROVEOUT_INNER Column column(Floats x, Floats y) const { return {x, y}; }
  PROVEOUT_INNER Floats at(const Column& c, float z) const { return at(c, splat(z)); }
  PROVEOUT_APART Floats at(const Column& c, Floats z) const {
    const Floats v = value(c.a, c.b, z);
    return to_distance(
        v, s.near, s.probe, z - s.pz[0] <= 0.5f * s.top,
        [&](float ex, float ey, float ez) { return value(c.a + ex, c.b + ey, z + ez); });
  }
  PROVEOUT_APART Floats value(Floats x, Floats y, Floats z) const {
    if constexpr (is_polygon<Meridian>) {
      return least_by_pieces(meridian,
                             [&](const Meridian& piece) { return least_of(piece, x, y, z); });
    } else {
      return least_of(meridian, x, y, z).value;
    }
  }
  PROVEOUT_INNER Least least_of(const Meridian& body, Floats x, Floats y, Floats z) const {
    const auto rho_from = [&](Floats px, Floats py) {
      const Floats dx = x - px, dy = y - py;
      return sqrt(dx * dx + dy * dy);
    };
    const auto at_pose = [&](Floats px, Floats py, Floats pz) {
      return body(rho_from(px, py), z - pz);
    };
    Floats least = splat(1e30f);
    Ints best = splat_int(0);
    for (const int i : s.near_poses) {
      const Floats f = at_pose(splat(s.px[i]), splat(s.py[i]), splat(s.pz[i]));
      best = select(f < least, splat_int(i), best);
      least = min(least, f);
    }
    // The three poses about the best one.
    std::int32_t nearest[lanes];
    store(nearest, best);
    float around[9][lanes];
    for (int lane = 0; lane < lanes; ++lane) {
      const int b = nearest[lane];
      const int m = b == 0 ? 1 : b == s.poses - 1 ? s.poses - 2 : b;
      for (int k = 0; k < 3; ++k) {
        around[k][lane] = s.px[m - 1 + k];
        around[3 + k][lane] = s.py[m - 1 + k];
        around[6 + k][lane] = s.pz[m - 1 + k];
      }
    }
    Floats px[3], py[3], pz[3];
    for (int k = 0; k < 3; ++k) {
      px[k] = load(around[k]);
      py[k] = load(around[3 + k]);
      pz[k] = load(around[6 + k]);
    }
    const auto found = [&](Floats t) {  // t from -1 to 1
      const Floats a = 0.5f * t * (t - 1.f), b = 1.f - t * t, c = 0.5f * t * (t + 1.f);
      const Floats rho =
          rho_from(a * px[0] + b * px[1] + c * px[2], a * py[0] + b * py[1] + c * py[2]);
      const Floats h = z - (a * pz[0] + b * pz[1] + c * pz[2]);
      return Least{body(rho, h), rho, h};
    };
    const auto between = [&](Floats t) { return found(t).value; };
    Floats lo = splat(-1.f), hi = splat(1.f);
    for (int i = 0; i < 14; ++i) {
      const Floats t1 = hi - 0.61803399f * (hi - lo), t2 = lo + 0.61803399f * (hi - lo);
      const Mask left = between(t1) < between(t2);
      hi = select(left, t2, hi);
      lo = select(left, lo, t1);
    }
    Least out = found(0.5f * (lo + hi));
    out.value = min(least, out.value);
    return out;
  }
};

// Calls on((Meridian*)nullptr) with the meridian of any profile but a plain cylinder.
template <class F>
static inline void with_other_meridian(const LocalSweep& s, F on) {
  switch (s.profile->shape) {
    case ProfileShape::sharp:
      return;
    case ProfileShape::rounded:
      return on((RoundedMeridian*)nullptr);
    case ProfileShape::convex:
      return on((ConvexMeridian*)nullptr);
    case ProfileShape::polygon:
      return on((PolygonMeridian*)nullptr);
  }
}

// Calls what(path) with the path and meridian of the sweep.
template <class F>
static inline void with_path(const LocalSweep& s, F what) {
  const auto with_meridian = [&](auto on) {
    if (s.profile->shape == ProfileShape::sharp) return on((SharpMeridian*)nullptr);
    with_other_meridian(s, on);
  };
  switch (s.kind) {
    case SweepKind::ball_ramp:
      return what(BallRamp(s));
    case SweepKind::level_line:
      return with_meridian([&]<class T>(T*) { what(LevelLine<T>(s)); });
    case SweepKind::level_arc:
      return with_meridian([&]<class T>(T*) { what(LevelArc<T>(s)); });
    case SweepKind::ramp:
      if (s.profile->shape == ProfileShape::sharp) return what(CylinderRamp(s));
      return with_other_meridian(s, [&]<class T>(T*) { what(Ramp<T>(s)); });
    case SweepKind::table:
      return with_meridian([&]<class T>(T*) { what(Table<T>(s)); });
  }
}

// The same for the sweeps of a chain (Tile::cut_chain): straight, of plain cylinders and balls
// always as ramps. Kernels for no other are compiled.
template <class F>
static inline void with_chain_path(const LocalSweep& s, F what) {
  if (s.kind == SweepKind::ball_ramp) return what(BallRamp(s));
  if (s.profile->shape == ProfileShape::sharp) return what(CylinderRamp(s));
  if (s.kind == SweepKind::ramp)
    return with_other_meridian(s, [&]<class T>(T*) { what(Ramp<T>(s)); });
  with_other_meridian(s, [&]<class T>(T*) { what(LevelLine<T>(s)); });
}
