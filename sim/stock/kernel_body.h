// The distance kernels' one text. Included by kernel_base.cpp and its wider twins inside a namespace of
// their own, after all standard headers; not for other use.

static inline float greater(float a, float b) { return a > b ? a : b; }
static inline float lesser(float a, float b) { return a < b ? a : b; }

// Signed distance in the meridian plane: rho >= 0, h above the foot, top: the body's height.
struct RoundedMeridian {
  float core, corner, top;
  RoundedMeridian(const LocalSweep& s)
      : core(s.profile->core), corner(s.profile->corner), top(s.top) {}
  inline float operator()(float rho, float h) const {
    const float a = rho - core;
    const float b = corner - h;
    const float a0 = greater(a, 0.f), b0 = greater(b, 0.f);
    const float inside = lesser(greater(a, b), 0.f);
    const float side = __builtin_sqrtf(a0 * a0 + b0 * b0) + inside - corner;
    const float over = h - top;
    // Above the top edge the distance is to the rim; beside it the larger of both, exact outside.
    const float so = greater(side, 0.f), oo = greater(over, 0.f);
    return over > 0.f ? __builtin_sqrtf(so * so + oo * oo) : greater(side, over);
  }
};

// A plain cylinder, and convex polygons below: the largest of the distances to their faces. Near a sharp
// rim that is less than the distance to the rim itself, with the same zero set. It is chosen on
// purpose: a rim cut this way and the edge max() leaves at the surface smear their volumes by equal and
// opposite amounts, so the two cancel (docs/engine.md, volume).
struct SharpMeridian {
  float radius, top;
  SharpMeridian(const LocalSweep& s) : radius(s.profile->core), top(s.top) {}
  inline float operator()(float rho, float h) const {
    return greater(greater(rho - radius, -h), h - top);
  }
};

struct ConvexMeridian {
  const Profile* p;
  float stretch;
  ConvexMeridian(const LocalSweep& s) : p(s.profile), stretch(s.top - s.profile->top) {}
  inline float operator()(float rho, float h) const {
    float most = -1e30f;
    for (int e = 0; e < p->edges; ++e) {
      const float lift = p->h0[e] >= p->top ? stretch : 0.f;
      most = greater(most, (rho - p->r0[e]) * p->nr[e] + (h - p->h0[e] - lift) * p->nh[e]);
    }
    return most;
  }
};

struct PolygonMeridian {
  const Profile* p;
  float stretch;  // a plunge makes the body taller: heights above the widest are moved up
  PolygonMeridian(const LocalSweep& s) : p(s.profile), stretch(s.top - s.profile->top) {}
  inline float operator()(float rho, float h) const {
    float nearest = 1e30f;
    bool inside = false;
    for (int e = 0; e < p->edges; ++e) {
      const float r0 = p->r0[e], r1 = p->r1[e];
      const float h0 = p->h0[e] >= p->top ? p->h0[e] + stretch : p->h0[e];
      const float h1 = p->h1[e] >= p->top ? p->h1[e] + stretch : p->h1[e];
      const float dr = r1 - r0, dh = h1 - h0;
      const float t = ((rho - r0) * dr + (h - h0) * dh) / (dr * dr + dh * dh);
      const float c = lesser(greater(t, 0.f), 1.f);
      const float er = rho - (r0 + c * dr), eh = h - (h0 + c * dh);
      nearest = lesser(nearest, er * er + eh * eh);
      const bool crosses = (h0 <= h) != (h1 <= h);
      inside ^= crosses & ((rho - r0) * dh * (dh > 0 ? 1.f : -1.f) < (h - h0) * dr * (dh > 0 ? 1.f : -1.f));
    }
    const float distance = __builtin_sqrtf(nearest);
    return inside ? -distance : distance;
  }
};

// Horizontal distance from a column to the path of a level sweep.
static inline float level_line_rho(const LocalSweep& s, float x, float y) {
  const float dx = x - s.ax, dy = y - s.ay;
  const float along = lesser(greater(dx * s.ux + dy * s.uy, 0.f), s.run);
  const float ex = dx - along * s.ux, ey = dy - along * s.uy;
  return __builtin_sqrtf(ex * ex + ey * ey);
}

// |p - centre| - radius without cancellation: with e = p - q, q on the circle, n its outward normal,
// x = n.e + k|e|^2/2 gives 2x / (1 + sqrt(1 + 2 k x)).
static inline float level_arc_rho(const LocalSweep& s, float x, float y) {
  const float dx = x - s.qx, dy = y - s.qy;
  const float m = s.nx * dx + s.ny * dy + 0.5f * s.curvature * (dx * dx + dy * dy);
  const float root = __builtin_sqrtf(greater(1.f + 2.f * s.curvature * m, 0.f));
  const float on_circle = 2.f * m / (1.f + root);
  const float fx = x - s.sx, fy = y - s.sy, gx = x - s.ex, gy = y - s.ey;
  const bool after_start = fx * s.stx + fy * s.sty >= 0.f;
  const bool before_end = gx * s.etx + gy * s.ety <= 0.f;
  const bool within =
      s.full | (s.long_arc ? (after_start | before_end) : (after_start & before_end));
  const float to_ends = __builtin_sqrtf(lesser(fx * fx + fy * fy, gx * gx + gy * gy));
  const float to_arc = on_circle < 0.f ? -on_circle : on_circle;
  return within ? to_arc : to_ends;
}

// Ball on a straight ramp: the swept core is a strip in the vertical plane of the motion, open upwards.
static inline float ball_ramp_value(const LocalSweep& s, float along, float across2, float z) {
  const float radius = s.profile->corner;
  const float zc = z - (s.az + radius);  // height over the ball's centre at the start
  const float slope2 = s.run * s.run + s.rise * s.rise;
  const float t = lesser(greater((along * s.run + zc * s.rise) / slope2, 0.f), 1.f);
  const float eu = along - t * s.run, ez = zc - t * s.rise;
  const float to_edge = eu * eu + ez * ez;
  const float uc = lesser(greater(along, 0.f), s.run);
  const float lower = s.run > 0.f ? uc / s.run * s.rise : lesser(s.rise, 0.f);
  const float side_u = along - uc;
  const float below = greater(lower - zc, 0.f);
  // Beside or above the strip's lower edge: horizontal distance, and what lies below it.
  const float to_strip = side_u * side_u + below * below;
  const bool over = below == 0.f;
  const float planar = over ? side_u * side_u : lesser(to_edge, side_u != 0.f ? to_strip : to_edge);
  const float side = __builtin_sqrtf(planar + across2) - radius;
  const float highest = s.az + greater(s.rise, 0.f) + s.top;
  return greater(side, z - highest);
}

template <class Meridian>
static inline float ramp_value(const LocalSweep& s, const Meridian& meridian, float along,
                               float across2, float z) {
  // Convex in the pose: golden section, then the better end of what is left.
  const float shrink = 0.61803399f;
  float lo = 0.f, hi = 1.f;
  const auto at = [&](float t) {
    const float du = along - t * s.run;
    return meridian(__builtin_sqrtf(du * du + across2), z - (s.az + t * s.rise));
  };
  float t1 = hi - shrink * (hi - lo), t2 = lo + shrink * (hi - lo);
  float f1 = at(t1), f2 = at(t2);
  for (int i = 0; i < 22; ++i) {
    const bool left = f1 < f2;
    hi = left ? t2 : hi;
    lo = left ? lo : t1;
    const float next = left ? hi - shrink * (hi - lo) : lo + shrink * (hi - lo);
    const float f = at(next);
    const float t1_old = t1, f1_old = f1;
    t1 = left ? next : t2;
    f1 = left ? f : f2;
    t2 = left ? t1_old : next;
    f2 = left ? f1_old : f;
  }
  return lesser(lesser(at(0.f), at(1.f)), lesser(f1, f2));
}

// A plain cylinder on a ramp: the least over the pose t of max(rho(t) - R, foot(t) - z) lies where rho is
// least, at an end, or where both are equal: (R + c + m t)^2 = (along - t run)^2 + across^2.
static inline float ramp_value(const LocalSweep& s, const SharpMeridian& meridian, float along,
                               float across2, float z) {
  const auto at = [&](float t) {
    const float c = lesser(greater(t, 0.f), 1.f);
    const float du = along - c * s.run;
    return meridian(__builtin_sqrtf(du * du + across2), z - (s.az + c * s.rise));
  };
  const float q = meridian.radius + s.az - z;
  const float a = s.run * s.run - s.rise * s.rise;
  const float b = -(along * s.run + q * s.rise);  // half of the linear term
  const float k = along * along + across2 - q * q;
  const float root = __builtin_sqrtf(greater(b * b - a * k, 0.f));
  // Both roots without cancellation.
  const float w = -(b + (b >= 0.f ? root : -root));
  const float t1 = a != 0.f ? w / a : 0.f;
  const float t2 = w != 0.f ? k / w : 0.f;
  const float t0 = s.run > 0.f ? along / s.run : 0.f;
  return lesser(lesser(lesser(at(0.f), at(1.f)), at(t0)), lesser(at(t1), at(t2)));
}

template <class Meridian>
static inline float table_value(const LocalSweep& s, const Meridian& meridian, float x, float y,
                                float z) {
  const auto at = [&](float px, float py, float pz) {
    const float dx = x - px, dy = y - py;
    return meridian(__builtin_sqrtf(dx * dx + dy * dy), z - pz);
  };
  int best = 0;
  float least = 1e30f;
  for (int i = 0; i < s.poses; ++i) {
    const float f = at(s.px[i], s.py[i], s.pz[i]);
    if (f < least) {
      least = f;
      best = i;
    }
  }
  // Refine on the parabola through the three poses about the best one.
  const int m = best == 0 ? 1 : best == s.poses - 1 ? s.poses - 2 : best;
  const auto between = [&](float t) {  // t from -1 to 1
    const float a = 0.5f * t * (t - 1.f), b = 1.f - t * t, c = 0.5f * t * (t + 1.f);
    return at(a * s.px[m - 1] + b * s.px[m] + c * s.px[m + 1],
              a * s.py[m - 1] + b * s.py[m] + c * s.py[m + 1],
              a * s.pz[m - 1] + b * s.pz[m] + c * s.pz[m + 1]);
  };
  float lo = -1.f, hi = 1.f;
  for (int i = 0; i < 14; ++i) {
    const float t1 = hi - 0.61803399f * (hi - lo), t2 = lo + 0.61803399f * (hi - lo);
    if (between(t1) < between(t2)) hi = t2; else lo = t1;
  }
  return lesser(least, between(0.5f * (lo + hi)));
}

// On a ramp or curve the best single pose understates depth and, at a sharp rim, distance: near the surface
// the value is divided by the length of its own slope, which makes it a distance to first order.
template <class F>
static inline float to_distance(const LocalSweep& s, F value_at, float v) {
  if (v > s.near || v < -s.near) return v;
  const float e = s.probe;
  const float gx = value_at(e, 0.f, 0.f) - value_at(-e, 0.f, 0.f);
  const float gy = value_at(0.f, e, 0.f) - value_at(0.f, -e, 0.f);
  const float gz = value_at(0.f, 0.f, e) - value_at(0.f, 0.f, -e);
  const float slope = __builtin_sqrtf(gx * gx + gy * gy + gz * gz) / (2.f * e);
  return slope > 0.3f && slope < 1.f ? v / slope : v;
}

template <class Meridian>
static inline float steep_value(const LocalSweep& s, const Meridian& meridian, float x, float y,
                                float z) {
  if (s.kind == SweepKind::table) return table_value(s, meridian, x, y, z);
  const float dx = x - s.ax, dy = y - s.ay;
  const float across = dy * s.ux - dx * s.uy;
  return ramp_value(s, meridian, dx * s.ux + dy * s.uy, across * across, z);
}

template <class Meridian>
static inline float steep_distance(const LocalSweep& s, const Meridian& meridian, float x, float y,
                                   float z, float v) {
  // Only the foot's rim needs it; at the rim of the body's top it would cut what is not there.
  const float start = s.kind == SweepKind::table ? s.pz[0] : s.az;
  if (z - start > 0.5f * s.top) return v;
  return to_distance(
      s,
      [&](float ex, float ey, float ez) { return steep_value(s, meridian, x + ex, y + ey, z + ez); },
      v);
}

template <class Meridian>
static void columns_of(const LocalSweep& s, const float* x, const float* y, int columns,
                       const float* z, int planes, float* out) {
  const Meridian meridian(s);
  float first[64], second[64];
  switch (s.kind) {
    case SweepKind::level_line:
      for (int c = 0; c < columns; ++c) first[c] = level_line_rho(s, x[c], y[c]);
      break;
    case SweepKind::level_arc:
      for (int c = 0; c < columns; ++c) first[c] = level_arc_rho(s, x[c], y[c]);
      break;
    case SweepKind::ball_ramp:
    case SweepKind::ramp:
      for (int c = 0; c < columns; ++c) {
        const float dx = x[c] - s.ax, dy = y[c] - s.ay;
        first[c] = dx * s.ux + dy * s.uy;
        const float across = dy * s.ux - dx * s.uy;
        second[c] = across * across;
      }
      break;
    case SweepKind::table:
      break;
  }
  for (int k = 0; k < planes; ++k) {
    float* row = out + k * columns;
    const float zk = z[k];
    switch (s.kind) {
      case SweepKind::level_line:
      case SweepKind::level_arc: {
        const float h = zk - s.az;
        for (int c = 0; c < columns; ++c) row[c] = meridian(first[c], h);
        break;
      }
      case SweepKind::ball_ramp:
        for (int c = 0; c < columns; ++c) row[c] = ball_ramp_value(s, first[c], second[c], zk);
        break;
      case SweepKind::ramp:
        for (int c = 0; c < columns; ++c) row[c] = ramp_value(s, meridian, first[c], second[c], zk);
        for (int c = 0; c < columns; ++c) {
          row[c] = steep_distance(s, meridian, x[c], y[c], zk, row[c]);
        }
        break;
      case SweepKind::table:
        for (int c = 0; c < columns; ++c) {
          row[c] = steep_distance(s, meridian, x[c], y[c], zk,
                                  table_value(s, meridian, x[c], y[c], zk));
        }
        break;
    }
  }
}

template <class Meridian>
static void points_of(const LocalSweep& s, const float* x, const float* y, const float* z, int count,
                      float* out) {
  const Meridian meridian(s);
  for (int i = 0; i < count; ++i) {
    switch (s.kind) {
      case SweepKind::level_line:
        out[i] = meridian(level_line_rho(s, x[i], y[i]), z[i] - s.az);
        break;
      case SweepKind::level_arc:
        out[i] = meridian(level_arc_rho(s, x[i], y[i]), z[i] - s.az);
        break;
      case SweepKind::ball_ramp: {
        const float dx = x[i] - s.ax, dy = y[i] - s.ay;
        const float across = dy * s.ux - dx * s.uy;
        out[i] = ball_ramp_value(s, dx * s.ux + dy * s.uy, across * across, z[i]);
        break;
      }
      case SweepKind::ramp:
      case SweepKind::table:
        out[i] = steep_distance(s, meridian, x[i], y[i], z[i],
                                steep_value(s, meridian, x[i], y[i], z[i]));
        break;
    }
  }
}

static void columns_any(const LocalSweep& s, const float* x, const float* y, int columns,
                        const float* z, int planes, float* out) {
  switch (s.profile->shape) {
    case ProfileShape::sharp: return columns_of<SharpMeridian>(s, x, y, columns, z, planes, out);
    case ProfileShape::rounded: return columns_of<RoundedMeridian>(s, x, y, columns, z, planes, out);
    case ProfileShape::convex: return columns_of<ConvexMeridian>(s, x, y, columns, z, planes, out);
    case ProfileShape::polygon: return columns_of<PolygonMeridian>(s, x, y, columns, z, planes, out);
  }
}

static void points_any(const LocalSweep& s, const float* x, const float* y, const float* z, int count,
                       float* out) {
  switch (s.profile->shape) {
    case ProfileShape::sharp: return points_of<SharpMeridian>(s, x, y, z, count, out);
    case ProfileShape::rounded: return points_of<RoundedMeridian>(s, x, y, z, count, out);
    case ProfileShape::convex: return points_of<ConvexMeridian>(s, x, y, z, count, out);
    case ProfileShape::polygon: return points_of<PolygonMeridian>(s, x, y, z, count, out);
  }
}
