#include "sim/stock/sweep.h"

#include <algorithm>
#include <cmath>

#include "parser/base/assert.h"
#include "sim/stock/planar_length.h"

namespace proveout::stock {
namespace {

using solid::Body;
using solid::ProfileSegment;

// Chords of an arc of the meridian stay this close to it, mm; only undercut or odd forms have any.
constexpr double meridian_chord = 1e-4;

void add_edge(Profile& p, double r0, double h0, double r1, double h1) {
  ProfileEdge e;
  e.r0 = static_cast<float>(r0);
  e.h0 = static_cast<float>(h0);
  e.r1 = static_cast<float>(r1);
  e.h1 = static_cast<float>(h1);
  // Ends that are one place in single precision have no normal, and leave no gap either.
  if (e.r0 == e.r1 && e.h0 == e.h1) return;
  const double dr = r1 - r0, dh = h1 - h0, length = std::hypot(dr, dh);
  e.nr = static_cast<float>(dh / length);  // to the right of the way up
  e.nh = static_cast<float>(-dr / length);
  p.edges.push_back(e);
}

void add_segment(Profile& p, const ProfileSegment& segment, double foot) {
  if (!segment.is_arc) {
    add_edge(p, segment.from.radius, segment.from.height - foot, segment.to.radius,
             segment.to.height - foot);
    return;
  }
  const double from = std::atan2(segment.from.height - segment.centre.height,
                                 segment.from.radius - segment.centre.radius);
  const double to = std::atan2(segment.to.height - segment.centre.height,
                               segment.to.radius - segment.centre.radius);
  const double step = 2 * std::acos(std::max(-1.0, 1 - meridian_chord / segment.arc_radius));
  const int chords = std::max(1, static_cast<int>(std::ceil(std::abs(to - from) / step)));
  for (int i = 0; i < chords; ++i) {
    const double a = from + (to - from) * i / chords, b = from + (to - from) * (i + 1) / chords;
    add_edge(p, segment.centre.radius + segment.arc_radius * std::cos(a),
             segment.centre.height + segment.arc_radius * std::sin(a) - foot,
             segment.centre.radius + segment.arc_radius * std::cos(b),
             segment.centre.height + segment.arc_radius * std::sin(b) - foot);
  }
}

// A cylinder, with or without a rounded rim at its foot.
bool is_rounded(const Body& body, double& core, double& corner) {
  corner = 0;
  const double r = body.largest_radius;
  bool side = false;
  for (const ProfileSegment& segment : body.meridian) {
    if (segment.is_arc) {
      if (std::abs(segment.to.radius - r) > 1e-12 ||
          std::abs(segment.from.height - body.bottom) > 1e-12) {
        return false;
      }
      corner = segment.arc_radius;
    } else if (segment.from.radius == segment.to.radius) {
      side = side || segment.from.radius == r;
      if (segment.from.radius != r) return false;
    } else if (segment.from.height != segment.to.height) {
      return false;
    }
  }
  core = r - corner;
  return side || corner > 0;
}

// Whether no corner of the meridian stands out beyond the plane of any of its edges.
bool is_convex(const Profile& p) {
  return std::all_of(p.edges.begin(), p.edges.end(), [&](const ProfileEdge& e) {
    return std::none_of(p.edges.begin(), p.edges.end(), [&](const ProfileEdge& k) {
      return (k.r1 - e.r0) * e.nr + (k.h1 - e.h0) * e.nh > 1e-4f;
    });
  });
}

const double most_level_rise = 1e-9;  // mm: flatter than this counts as level

}  // namespace

float Profile::radius_at(float h) const {
  if (h < 0 || h > top) return 0;
  if (shape == ProfileShape::sharp || shape == ProfileShape::rounded) {
    if (h >= corner) return core + corner;
    const float d = corner - h;
    return core + std::sqrt(std::max(0.f, corner * corner - d * d));
  }
  float radius = 0;
  for (const ProfileEdge& e : edges) {
    const float lo = std::min(e.h0, e.h1), hi = std::max(e.h0, e.h1);
    if (h < lo || h > hi) continue;
    if (hi == lo) {
      if (h < top) radius = std::max({radius, e.r0, e.r1});
    } else {
      radius = std::max(radius, e.r0 + (h - e.h0) / (e.h1 - e.h0) * (e.r1 - e.r0));
    }
  }
  return radius;
}

Profile make_profile(const Body& body) {
  Profile p;
  p.base = static_cast<float>(body.bottom);
  p.top = static_cast<float>(body.top - body.bottom);
  p.largest_radius = static_cast<float>(body.largest_radius);
  double core = 0, corner = 0;
  if (is_rounded(body, core, corner)) {
    p.core = static_cast<float>(core);
    p.corner = static_cast<float>(corner);
    p.shape = corner > 0 ? ProfileShape::rounded : ProfileShape::sharp;
    return p;
  }
  double widest = 0;
  for (const ProfileSegment& segment : body.meridian) {
    add_segment(p, segment, body.bottom);
    const bool lid = segment.to.radius == 0 && segment.from.height == segment.to.height;
    if (!lid && segment.to.radius < widest - 1e-12) p.widens_upwards = false;
    widest = std::max(widest, segment.to.radius);
  }
  p.shape = is_convex(p) ? ProfileShape::convex : ProfileShape::polygon;
  return p;
}

Sweep make_sweep(const nc::Motion& m, const Profile& profile) {
  Sweep s;
  s.motion = &m;
  s.profile = &profile;
  s.length = nc::length(m);
  const double r = profile.largest_radius;
  s.box = nc::bounds(m);
  s.box.min() += Vec3(-r, -r, profile.base);
  s.box.max() += Vec3(r, r, static_cast<double>(profile.base) + profile.top);
  const double rise = m.end.z() - m.start.z();
  const double run = std::hypot(m.end.x() - m.start.x(), m.end.y() - m.start.y());
  const bool arc = m.kind == nc::PathKind::arc && m.sweep != 0;
  const bool level = std::abs(rise) < most_level_rise;
  const bool plunge = run < most_level_rise && profile.widens_upwards;
  const bool table = arc && (m.plane != nc::Plane::xy || !level);
  if (arc) {
    s.kind = SweepKind::level_arc;
  } else if (level || plunge) {
    s.kind = SweepKind::level_line;  // a plunge: the lowest body made taller
  } else if (profile.shape == ProfileShape::rounded && profile.core == 0) {
    s.kind = SweepKind::ball_ramp;
  } else {
    s.kind = SweepKind::ramp;
  }
  if (table) {
    s.kind = SweepKind::table;
    // Parabolas through poses 5 degrees apart leave less than 1e-4 of the radius.
    const int count =
        static_cast<int>(std::clamp(std::ceil(std::abs(m.sweep) / (pi / 36)), 4.0, 4000.0));
    s.poses.reserve(count + 1);
    for (int i = 0; i <= count; ++i) s.poses.push_back(nc::point_at(m, double(i) / count));
  }
  return s;
}

namespace {

void localise_arc(const nc::Motion& m, const Vec3& o, LocalArc& l) {
  const Eigen::Vector2d centre(m.centre.x() - o.x(), m.centre.y() - o.y());
  const Eigen::Vector2d start(m.start.x() - o.x(), m.start.y() - o.y());
  const Eigen::Vector2d end(m.end.x() - o.x(), m.end.y() - o.y());
  const double radius = (start - centre).norm();
  const double sign = m.sweep > 0 ? 1 : -1;
  Eigen::Vector2d out = -centre;  // from the centre towards the local origin
  if (!(out.norm() > 1e-9 * (1 + radius))) out = start - centre;
  out.normalize();
  const Eigen::Vector2d on = centre + radius * out;
  l.qx = static_cast<float>(on.x());
  l.qy = static_cast<float>(on.y());
  l.nx = static_cast<float>(out.x());
  l.ny = static_cast<float>(out.y());
  l.curvature = radius > 0 ? static_cast<float>(1 / radius) : 0.f;
  const auto tangent = [&](const Eigen::Vector2d& p) {
    const Eigen::Vector2d n = (p - centre).normalized();
    return Eigen::Vector2d(-sign * n.y(), sign * n.x());
  };
  const Eigen::Vector2d ts = tangent(start), te = tangent(end);
  l.sx = static_cast<float>(start.x());
  l.sy = static_cast<float>(start.y());
  l.stx = static_cast<float>(ts.x());
  l.sty = static_cast<float>(ts.y());
  l.ex = static_cast<float>(end.x());
  l.ey = static_cast<float>(end.y());
  l.etx = static_cast<float>(te.x());
  l.ety = static_cast<float>(te.y());
  l.full = std::abs(m.sweep) >= 2 * pi - 1e-9;
  l.long_arc = std::abs(m.sweep) > pi;
}

// Poses whose body comes within reach of a tile about the origin: half the tile's diagonal, a
// block's and the band. At least one, so that there is a distance.
void near_poses(double voxel, LocalSweep& l) {
  const auto reach = static_cast<float>(l.profile->largest_radius + 36 * voxel);
  l.near_poses.clear();
  int nearest = 0;
  float least = 1e30f;
  for (int i = 0; i < l.poses; ++i) {
    const float away = planar_length(l.px[i], l.py[i]);
    if (away <= reach && l.pz[i] <= 36 * static_cast<float>(voxel)) l.near_poses.push_back(i);
    if (away < least) {
      least = away;
      nearest = i;
    }
  }
  if (l.near_poses.empty()) l.near_poses.push_back(nearest);
}

}  // namespace

void localise(const Sweep& s, const Vec3& o, double voxel, LocalSweep& l) {
  const nc::Motion& m = *s.motion;
  // A place that is no number would cut nothing at all, without a sound.
  PROVEOUT_ASSERT(m.start.allFinite() && m.end.allFinite() && o.allFinite() && voxel > 0, o.x(),
                  o.y(), o.z(), voxel);
  const Profile& p = *s.profile;
  l.kind = s.kind;
  l.profile = s.profile;
  l.top = p.top;
  l.voxel = static_cast<float>(voxel);
  l.length = static_cast<float>(s.length);
  l.near = static_cast<float>(2 * voxel);
  l.probe = static_cast<float>(0.1 * voxel);
  const double foot = p.base - o.z();
  const Vec3 step = m.end - m.start;
  const double run = std::hypot(step.x(), step.y());
  switch (s.kind) {
    case SweepKind::level_arc:
      localise_arc(m, o, l.arc);
      l.az = static_cast<float>(m.start.z() + foot);
      return;
    case SweepKind::table:
      l.poses = static_cast<int>(s.poses.size());
      l.px.resize(s.poses.size());
      l.py.resize(s.poses.size());
      l.pz.resize(s.poses.size());
      for (std::size_t i = 0; i < s.poses.size(); ++i) {
        l.px[i] = static_cast<float>(s.poses[i].x() - o.x());
        l.py[i] = static_cast<float>(s.poses[i].y() - o.y());
        l.pz[i] = static_cast<float>(s.poses[i].z() + foot);
      }
      near_poses(voxel, l);
      return;
    case SweepKind::level_line:
      l.az = static_cast<float>(std::min(m.start.z(), m.end.z()) + foot);
      l.top = static_cast<float>(p.top + std::abs(step.z()));
      l.rise = 0;
      break;
    case SweepKind::ball_ramp:
    case SweepKind::ramp:
      l.az = static_cast<float>(m.start.z() + foot);
      l.rise = static_cast<float>(step.z());
      break;
  }
  l.ax = static_cast<float>(m.start.x() - o.x());
  l.ay = static_cast<float>(m.start.y() - o.y());
  l.run = static_cast<float>(run);
  l.ux = run > 0 ? static_cast<float>(step.x() / run) : 1.f;
  l.uy = run > 0 ? static_cast<float>(step.y() / run) : 0.f;
}

namespace {

// Touch of a body standing with its foot at `foot`, feed direction (cx, cy), seen from its axis.
FirstTouch seen_from(const Vec3& foot, double cx, double cy, const Vec3& p, double along) {
  FirstTouch t;
  const double dx = p.x() - foot.x(), dy = p.y() - foot.y();
  t.along = static_cast<float>(along);
  t.height = static_cast<float>(p.z() - foot.z());
  t.ahead = static_cast<float>(dx * cx + dy * cy);
  t.left = static_cast<float>(dy * cx - dx * cy);
  return t;
}

// The body reaches the point when its underside at that radius does.
FirstTouch touch_on_plunge(const Sweep& s, const Vec3& p) {
  const nc::Motion& m = *s.motion;
  const double fall = m.end.z() - m.start.z();
  const double base = s.profile->base;
  FirstTouch t = seen_from(m.end + Vec3(0, 0, base), 1, 0, p, 0);
  t.plunging = true;
  if (fall < 0) {
    const double rho = planar_length(t.left, t.ahead);
    double under = 0;  // height above the foot at which the body is that wide
    double lo = 0, hi = s.profile->top;
    for (int i = 0; i < 24 && s.profile->radius_at(static_cast<float>(lo)) < rho; ++i) {
      const double mid = 0.5 * (lo + hi);
      (s.profile->radius_at(static_cast<float>(mid)) < rho ? lo : hi) = mid;
      under = hi;
    }
    const double foot_then = p.z() - under;
    t.along = static_cast<float>(std::clamp(m.start.z() + base - foot_then, 0.0, s.length));
    t.height = static_cast<float>(p.z() - (m.start.z() + base - t.along));
  }
  return t;
}

FirstTouch touch_on_arc(const Sweep& s, const Vec3& p) {
  const nc::Motion& m = *s.motion;
  const double base = s.profile->base;
  const double cx = m.centre.x(), cy = m.centre.y();
  const double radius = std::hypot(m.start.x() - cx, m.start.y() - cy);
  const double sign = m.sweep > 0 ? 1 : -1;
  const double rho = std::hypot(p.x() - cx, p.y() - cy);
  const double r = s.profile->radius_at(static_cast<float>(p.z() - (m.start.z() + base)));
  const double start = std::atan2(m.start.y() - cy, m.start.x() - cx);
  double turn = sign * (std::atan2(p.y() - cy, p.x() - cx) - start);
  // Law of cosines: the pose before the point from which its rim just reaches it.
  const double cosine =
      rho > 0 && radius > 0 ? (rho * rho + radius * radius - r * r) / (2 * rho * radius) : 1.0;
  const double back = std::acos(std::clamp(cosine, -1.0, 1.0));
  const double whole = std::abs(m.sweep);
  // Of the turns that mean the same point take the first at or after the start; a point reached
  // from the starting pose lies just before it.
  turn = std::fmod(turn + 4 * pi, 2 * pi);
  if (turn - back > whole && turn - 2 * pi + back > -1e-9) turn -= 2 * pi;
  const double at = std::clamp(turn - back, 0.0, whole);
  const double share = whole > 0 ? at / whole : 0;
  const Vec3 pose = nc::point_at(m, share);
  const Vec3 feed = nc::tangent_at(m, share);
  return seen_from(pose + Vec3(0, 0, base), feed.x(), feed.y(), p, share * s.length);
}

FirstTouch touch_on_table(const Sweep& s, const Vec3& p) {
  const nc::Motion& m = *s.motion;
  const double base = s.profile->base;
  // The first pose whose body holds the point; else the nearest one.
  const int last = static_cast<int>(s.poses.size()) - 1;
  int best = 0;
  double least = 1e300;
  for (int i = 0; i <= last; ++i) {
    const double rho = std::hypot(p.x() - s.poses[i].x(), p.y() - s.poses[i].y());
    const double h = p.z() - s.poses[i].z() - base;
    const double r = s.profile->radius_at(static_cast<float>(std::max(h, 0.0)));
    const double outside = std::max(rho - r, -h);
    if (outside < least) {
      least = outside;
      best = i;
    }
    if (outside <= 0) break;
  }
  const double share = last > 0 ? double(best) / last : 0;
  const Vec3 feed = nc::tangent_at(m, share);
  const double flat = std::hypot(feed.x(), feed.y());
  FirstTouch t = flat > 1e-9
                     ? seen_from(s.poses[best] + Vec3(0, 0, base), feed.x() / flat, feed.y() / flat,
                                 p, share * s.length)
                     : seen_from(s.poses[best] + Vec3(0, 0, base), 1, 0, p, share * s.length);
  t.plunging = flat <= 1e-9;
  return t;
}

}  // namespace

FirstTouch first_touch(const Sweep& s, const Vec3& point) {
  switch (s.kind) {
    case SweepKind::level_arc:
      return touch_on_arc(s, point);
    case SweepKind::table:
      return touch_on_table(s, point);
    default:
      return touch_on_plunge(s, point);
  }
}

float bearing_of(const FirstTouch& t) {
  if (t.plunging) {
    const float sum = std::abs(t.left) + std::abs(t.ahead);
    const float ahead = sum > 0 ? t.left / sum : 0.f;
    return t.ahead >= 0 ? ahead : (t.left >= 0 ? 2.f : -2.f) - ahead;
  }
  const float sum = std::abs(t.left) + std::max(t.ahead, 0.f);
  return sum > 0 ? t.left / sum : 0.f;
}

double degrees_of_bearing(double bearing) {
  const double size = std::abs(bearing);
  const double left = size <= 1 ? size : 2 - size;
  const double ahead = size <= 1 ? 1 - left : left - 1;
  return std::copysign(std::atan2(left, ahead) * deg_per_rad, bearing);
}

}  // namespace proveout::stock
