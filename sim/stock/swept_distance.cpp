#include "sim/stock/swept_distance.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "sim/stock/least_share.h"
#include "sim/stock/profile_pieces.h"

namespace proveout::stock {
namespace {

constexpr double one_face = 1e9;  // mm: no other face near

double square(double v) { return v * v; }

// Not std::hypot, which is slow and rounded differently by C libraries; no mm's square overflows.
double way_of(double a, double b) { return std::sqrt(square(a) + square(b)); }

// Heights at or above the body's top go up with it when a plunge makes the body taller.
double lifted(double h, const Profile& p, double top) {
  return h >= static_cast<double>(p.top) ? h + (top - p.top) : h;
}

// Signed distance to one convex piece of a polygon (profile_pieces.h), closed towards the axis.
double piece_distance(std::span<const ProfileEdge> piece, double rho, double h) {
  double nearest = 1e60;
  bool inside = false;
  const auto edge = [&](double r0, double h0, double r1, double h1) {
    const double dr = r1 - r0, dh = h1 - h0, length = square(dr) + square(dh);
    const double t =
        length > 0 ? std::clamp(((rho - r0) * dr + (h - h0) * dh) / length, 0.0, 1.0) : 0.0;
    nearest = std::min(nearest, square(rho - (r0 + t * dr)) + square(h - (h0 + t * dh)));
    const double up = dh > 0 ? 1 : -1;
    if ((h0 <= h) != (h1 <= h) && (rho - r0) * dh * up < (h - h0) * dr * up) inside = !inside;
  };
  for (const ProfileEdge& e : piece) edge(e.r0, e.h0, e.r1, e.h1);
  edge(0, piece.front().h0, piece.front().r0, piece.front().h0);
  edge(piece.back().r1, piece.back().h1, 0, piece.back().h1);
  return (inside ? -1 : 1) * std::sqrt(nearest);
}

}  // namespace

SweptDistance::SweptDistance(const nc::Motion& motion, const Profile& profile)
    : motion_(&motion), profile_(&profile) {
  const Sweep sweep = make_sweep(motion, profile);
  kind_ = sweep.kind;
  box_ = sweep.box;
  top_ = profile.top;
  const Vec3 step = motion.end - motion.start;
  run_ = std::hypot(step.x(), step.y());
  if (run_ > 0) {
    ux_ = step.x() / run_;
    uy_ = step.y() / run_;
  }
  foot_ = motion.start.z() + profile.base;
  if (kind_ == SweepKind::level_line) {
    foot_ = std::min(motion.start.z(), motion.end.z()) + profile.base;
    top_ += std::abs(step.z());
  } else if (kind_ == SweepKind::level_arc) {
    const Vec3 out = motion.start - motion.centre;
    radius_ = std::hypot(out.x(), out.y());
    from_ = std::atan2(out.y(), out.x());
    turn_ = motion.sweep;
  } else {
    rise_ = step.z();
  }
  if (kind_ == SweepKind::table && profile.shape == ProfileShape::sharp &&
      motion.kind == nc::PathKind::arc && motion.plane == nc::Plane::xy && motion.sweep != 0) {
    const Vec3 out = motion.start - motion.centre;
    radius_ = std::hypot(out.x(), out.y());
    from_ = std::atan2(out.y(), out.x());
    turn_ = motion.sweep;
    const double at_end =
        std::hypot(motion.end.x() - motion.centre.x(), motion.end.y() - motion.centre.y());
    helix_ = std::abs(at_end - radius_) < 1e-9;
  }
}

SweptDistance::Meridian SweptDistance::rounded(double rho, double h) const {
  const double core = profile_->core, corner = profile_->corner;
  Meridian m;
  const double a = rho - core, b = corner - h;
  if (a > 0 && b > 0) {
    const double way = way_of(a, b);
    m.distance = way - corner;
    m.by_rho = a / way;
    m.by_h = -b / way;
    m.curvature = 1 / std::max(way, 1e-6);
  } else if (a >= b) {
    m.distance = a - corner;
    m.by_rho = 1;
    m.curvature = 1 / std::max(rho, 1e-6);
  } else {
    m.distance = b - corner;
    m.by_h = -1;
  }
  // Core and foot meet without a kink where the rim is round; only deep inside do they meet at one.
  if (a <= 0 && b <= 0) m.gap = std::abs(a - b);
  const double over = h - top_;
  if (over <= 0 && over < m.distance) {
    m.gap = std::min(m.gap, m.distance - over);
    return m;
  }
  if (over > 0 && m.distance > 0) {
    const double way = way_of(m.distance, over);
    const double share = m.distance / way;
    m.by_rho *= share;
    m.by_h = m.by_h * share + over / way;
    m.distance = way;
    m.gap = 0;
  } else if (over >= m.distance) {
    m.gap = over - m.distance;
    m.distance = over;
    m.by_rho = 0;
    m.by_h = 1;
  }
  return m;
}

SweptDistance::Meridian SweptDistance::faces(double rho, double h) const {
  Meridian m;
  m.distance = -1e30;
  double second = -1e30;
  const auto face = [&](double distance, double by_rho, double by_h) {
    if (distance > m.distance) {
      second = m.distance;
      m.distance = distance;
      m.by_rho = by_rho;
      m.by_h = by_h;
    } else {
      second = std::max(second, distance);
    }
  };
  if (profile_->shape == ProfileShape::sharp) {
    face(rho - profile_->core, 1, 0);
    face(-h, 0, -1);
    face(h - top_, 0, 1);
  } else {
    for (const ProfileEdge& e : profile_->edges) {
      const double dr = double(e.r1) - e.r0;
      const double dh = double(e.h1) - e.h0;
      const double length = way_of(dr, dh), nr = dh / length, nh = -dr / length;
      const double lift = e.h0 >= profile_->top ? top_ - profile_->top : 0;
      face((rho - e.r0) * nr + (h - e.h0 - lift) * nh, nr, nh);
    }
  }
  m.gap = m.distance - second;
  // A cone's flank turns about the axis; its tip is a kink of its own.
  if (m.by_rho > 0) {
    m.curvature = 1 / std::max(rho, 1e-6);
    if (profile_->shape != ProfileShape::sharp) m.gap = std::min(m.gap, 2 * rho * m.by_rho);
  }
  return m;
}

SweptDistance::Meridian SweptDistance::polygon(double rho, double h) const {
  Meridian m;
  double nearest = 1e60, away_r = 0, away_h = 0, normal_r = 0, normal_h = 0;
  bool inside = false;
  for (const ProfileEdge& e : profile_->edges) {
    const double r0 = e.r0, r1 = e.r1;
    const double h0 = lifted(e.h0, *profile_, top_);
    const double h1 = lifted(e.h1, *profile_, top_);
    const double dr = r1 - r0, dh = h1 - h0;
    const double t = std::clamp(((rho - r0) * dr + (h - h0) * dh) / (dr * dr + dh * dh), 0.0, 1.0);
    const double er = rho - (r0 + t * dr), eh = h - (h0 + t * dh);
    if (square(er) + square(eh) < nearest) {
      nearest = square(er) + square(eh);
      away_r = er;
      away_h = eh;
      const double length = way_of(dr, dh);
      normal_r = dh / length;
      normal_h = -dr / length;
    }
    const double up = dh > 0 ? 1 : -1;
    if ((h0 <= h) != (h1 <= h) && (rho - r0) * dh * up < (h - h0) * dr * up) inside = !inside;
  }
  const double way = std::sqrt(nearest), sign = inside ? -1 : 1;
  m.distance = sign * way;
  m.by_rho = way > 1e-9 ? sign * away_r / way : normal_r;
  m.by_h = way > 1e-9 ? sign * away_h / way : normal_h;
  m.gap = 0;  // kinks anywhere: never taken for plain
  return m;
}

SweptDistance::Meridian SweptDistance::meridian(double rho, double h) const {
  switch (profile_->shape) {
    case ProfileShape::rounded:
      return rounded(rho, h);
    case ProfileShape::polygon:
      return polygon(rho, h);
    default:
      return faces(rho, h);
  }
}

double SweptDistance::meridian_distance(double rho, double h) const {
  if (profile_->shape == ProfileShape::sharp) return std::max({rho - profile_->core, -h, h - top_});
  return meridian(rho, h).distance;
}

Eigen::Vector2d SweptDistance::from_path(const Vec3& p) const {
  if (kind_ != SweepKind::level_arc) {
    const double dx = p.x() - motion_->start.x(), dy = p.y() - motion_->start.y();
    const double along = std::clamp(dx * ux_ + dy * uy_, 0.0, run_);
    return {dx - along * ux_, dy - along * uy_};
  }
  const Eigen::Vector2d out(p.x() - motion_->centre.x(), p.y() - motion_->centre.y());
  const double way = out.norm(), sign = turn_ > 0 ? 1 : -1;
  double turn = sign * (std::atan2(out.y(), out.x()) - from_);
  turn = std::fmod(turn + 4 * pi, 2 * pi);
  if (std::abs(turn_) >= 2 * pi - 1e-9 || turn <= std::abs(turn_)) {
    if (!(way > 0)) return {-radius_, 0};
    return (way - radius_) / way * out;
  }
  const Eigen::Vector2d a(p.x() - motion_->start.x(), p.y() - motion_->start.y());
  const Eigen::Vector2d b(p.x() - motion_->end.x(), p.y() - motion_->end.y());
  return a.squaredNorm() < b.squaredNorm() ? a : b;
}

Nearness SweptDistance::level(const Vec3& p) const {
  const Eigen::Vector2d away = from_path(p);
  const double rho = away.norm();
  const Meridian m = meridian(rho, p.z() - foot_);
  Nearness n;
  n.distance = m.distance;
  n.curvature = m.curvature;
  n.gap = m.gap;
  const double scale = rho > 1e-12 ? m.by_rho / rho : 0;
  n.slope = Vec3(away.x() * scale, away.y() * scale, m.by_h);
  if (profile_->shape == ProfileShape::polygon) return n;
  // A face square to the axis is a plane whatever the path.
  n.hollow = kind_ == SweepKind::level_line || m.by_rho == 0 ? 0 : arc_hollow(p, rho);
  return n;
}

// The way from an arc is never less than that from its whole circle, which is hollow about its
// middle. Beyond the ends of an arc of no more than half a turn it is that of a set of positive
// reach (Federer, "Curvature measures", Trans. AMS 93 (1959) 418-491): hollow no more than the
// circle is as far inside it.
double SweptDistance::arc_hollow(const Vec3& p, double rho) const {
  const double x = p.x() - motion_->centre.x(), y = p.y() - motion_->centre.y();
  const double out = way_of(x, y);
  if (std::abs(rho - std::abs(out - radius_)) < 1e-9) return 1 / std::max(out, 1e-9);
  if (std::abs(turn_) <= pi && rho < radius_) return 1 / std::max(radius_ - rho, 1e-9);
  return Nearness::unbounded;
}

void SweptDistance::faces_near(const Vec3& p, std::vector<Nearness>& to) const {
  to.clear();
  const auto add = [&](double distance, const Vec3& slope, double hollow) {
    Nearness n;
    n.distance = distance;
    n.slope = slope;
    n.hollow = hollow;
    to.push_back(n);
  };
  const bool ramp = kind_ == SweepKind::ramp && profile_->shape == ProfileShape::sharp;
  if (ramp) {
    // Over all poses the side is nearest beside the point, the underside where it is lowest.
    const double dx = p.x() - motion_->start.x(), dy = p.y() - motion_->start.y();
    const double t = std::clamp(dx * ux_ + dy * uy_, 0.0, run_);
    const Vec3 away(dx - t * ux_, dy - t * uy_, 0);
    const double rho = away.norm();
    if (rho > 1e-9) add(rho - profile_->core, away / rho, 0);
    add(foot_ + std::min(rise_, 0.0) - p.z(), Vec3(0, 0, -1), 0);
    return;
  }
  if (kind_ != SweepKind::level_line && kind_ != SweepKind::level_arc) return;
  const Eigen::Vector2d away = from_path(p);
  const double rho = away.norm(), h = p.z() - foot_;
  const Vec3 out = rho > 1e-9 ? Vec3(away.x() / rho, away.y() / rho, 0) : Vec3(Vec3::Zero());
  const double hollow = kind_ == SweepKind::level_line ? 0 : arc_hollow(p, rho);
  if (profile_->shape == ProfileShape::sharp) {
    if (rho > 1e-9) add(rho - profile_->core, out, hollow);
    add(-h, Vec3(0, 0, -1), 0);
  } else if (profile_->shape == ProfileShape::convex) {
    for (const ProfileEdge& e : profile_->edges) {
      const double dr = double(e.r1) - e.r0, dh = double(e.h1) - e.h0;
      const double length = way_of(dr, dh), nr = dh / length, nh = -dr / length;
      if (nr < 0 || (nr > 0 && !(rho > 1e-9))) continue;
      const double lift = e.h0 >= profile_->top ? top_ - profile_->top : 0;
      add((rho - e.r0) * nr + (h - e.h0 - lift) * nh, nr * out + Vec3(0, 0, nh), hollow * nr);
    }
  }
}

// A ball's core is a strip in the vertical plane of the motion, open upwards (see BallRamp of the
// kernels).
Nearness SweptDistance::ball_ramp(const Vec3& p) const {
  const double dx = p.x() - motion_->start.x(), dy = p.y() - motion_->start.y();
  const double along = dx * ux_ + dy * uy_, across = dy * ux_ - dx * uy_;
  const double radius = profile_->corner;
  const double zc = p.z() - (foot_ + radius);
  const double t =
      std::clamp((along * run_ + zc * rise_) / (square(run_) + square(rise_)), 0.0, 1.0);
  const double eu = along - t * run_, ez = zc - t * rise_;
  const double uc = std::clamp(along, 0.0, run_), beside = along - uc;
  const double lower = run_ > 0 ? uc * rise_ / run_ : std::min(rise_, 0.0);
  const double below = std::max(lower - zc, 0.0);
  double u = eu, z = ez;
  if (below == 0) {
    u = beside;
    z = 0;
  } else if (beside != 0 && square(beside) + square(below) < square(eu) + square(ez)) {
    u = beside;
    z = -below;
  }
  const double way = std::sqrt(square(u) + square(z) + square(across));
  Nearness n;
  n.distance = way - radius;
  n.curvature = 1 / std::max(way, 1e-6);
  n.hollow = 0;
  n.gap = one_face;
  if (way > 1e-12) n.slope = Vec3(u * ux_ - across * uy_, u * uy_ + across * ux_, z) / way;
  const double over = p.z() - (foot_ + std::max(rise_, 0.0) + top_);
  n.gap = std::abs(n.distance - over);
  if (over > n.distance) {
    n.distance = over;
    n.slope = Vec3(0, 0, 1);
    n.curvature = 0;
  }
  return n;
}

// A plain cylinder on a ramp: the least over the pose of max(side, under), as CylinderRamp of the
// kernels finds it, but not divided by its own slope.
Nearness SweptDistance::cylinder_ramp(const Vec3& p) const {
  const double dx = p.x() - motion_->start.x(), dy = p.y() - motion_->start.y();
  const double along = dx * ux_ + dy * uy_, across = dy * ux_ - dx * uy_;
  const double radius = profile_->core, below = foot_ - p.z();
  const auto way_at = [&](double t) {
    return std::sqrt(square(along - t * run_) + square(across));
  };
  const auto side_at = [&](double t) { return way_at(t) - radius; };
  const auto sideways = [&](double t) {
    const double u = along - t * run_, way = way_at(t);
    if (!(way > 1e-12)) return Vec3(Vec3::Zero());
    return Vec3((u * ux_ - across * uy_) / way, (u * uy_ + across * ux_) / way, 0);
  };
  const double t0 = run_ > 0 ? std::clamp(along / run_, 0.0, 1.0) : 0.0;
  const double low_end = rise_ < 0 ? 1 : 0;
  const double side = side_at(t0), under = below + rise_ * t0;
  const double end_side = side_at(low_end), end_under = below + rise_ * low_end;
  Nearness n;
  n.hollow = 0;
  n.curvature = 1 / std::max(radius + side, 1e-6);
  if (side >= under) {
    n.distance = side;
    n.slope = sideways(t0);
    n.gap = side - under;
  } else if (end_side <= end_under) {
    n.distance = end_under;
    n.slope = Vec3(0, 0, -1);
    n.gap = end_under - end_side;
  } else {
    // From t0 to the low end the side grows and the underside falls; their difference is convex in
    // t, above 0 at the low end: from there Newton's steps never pass the one place where it is 0.
    double t = low_end;
    for (int i = 0; i < 60; ++i) {
      const double way = std::max(way_at(t), 1e-12);
      const double apart = way - radius - (below + rise_ * t);
      const double grows = -(along - t * run_) * run_ / way - rise_;
      const double next =
          std::clamp(t - apart / grows, std::min(t0, low_end), std::max(t0, low_end));
      if (!(apart > 0) || next == t) break;
      t = next;
    }
    n.distance = below + rise_ * t;
    // The slope is that of the mix whose change along the path vanishes.
    const double way = std::max(way_at(t), 1e-12);
    const double toward = (along - t * run_) * run_ / way;
    const double mix = std::clamp(rise_ / (rise_ + toward), 0.0, 1.0);
    n.slope = mix * sideways(t) + (1 - mix) * Vec3(0, 0, -1);
    n.gap = 0;
  }
  const double over = p.z() - (foot_ + top_ + std::max(rise_, 0.0));
  n.gap = std::min(n.gap, std::abs(n.distance - over));
  if (over > n.distance) {
    n.distance = over;
    n.slope = Vec3(0, 0, 1);
    n.curvature = 0;
  }
  return n;
}

// A plain cylinder on a helix: the least over the pose of max(side, under), the way down taken as
// forwards. Of poses a whole turn apart the lower one is nearer, so only the last turn is looked
// at: from the pose beside the point on the side grows and the underside falls until they meet, at
// most half a turn on; or the end is nearest.
Nearness SweptDistance::cylinder_helix(const Vec3& p) const {
  const double x = p.x() - motion_->centre.x(), y = p.y() - motion_->centre.y();
  const double out = way_of(x, y), core = profile_->core;
  const double fall = -std::abs(rise_), span = std::abs(turn_);
  const double highest = foot_ + std::max(rise_, 0.0), below = highest - p.z();
  // Forwards is down: where the path goes up, from its end back to its start.
  const bool up = rise_ > 0;
  const double first = up ? from_ + turn_ : from_, sense = (turn_ > 0) != up ? 1 : -1;
  const auto side_at = [&](double turn, double beside) {  // turn: rad from the start, downwards
    const double between = turn - beside;
    return std::sqrt(std::max(
               0.0, square(out - radius_) + 4 * out * radius_ * square(std::sin(0.5 * between)))) -
           core;
  };
  const auto under_at = [&](double turn) { return below + fall * turn / span; };
  double beside = std::fmod(sense * (std::atan2(y, x) - first) + 4 * pi, 2 * pi);
  const double window = std::max(0.0, span - 2 * pi);
  beside += 2 * pi * std::ceil((window - beside) / (2 * pi) - 1e-12);
  double turn = beside <= span ? std::max(beside, window) : window;
  const double half = std::min(span, beside <= span ? beside + pi : beside - pi);
  Nearness n;
  const auto outward = [&](double t) {
    const double angle = first + sense * t;
    Vec3 way(x - radius_ * std::cos(angle), y - radius_ * std::sin(angle), 0);
    const double length = way.norm();
    return length > 1e-12 ? Vec3(way / length) : Vec3(Vec3::Zero());
  };
  const double side = side_at(turn, beside), under = under_at(turn);
  n.curvature = 1 / std::max(core + side, 1e-6);
  const double end_side = side_at(span, beside), end_under = under_at(span);
  if (side >= under) {
    n.distance = side;
    n.slope = outward(turn);
    n.gap = side - under;
    // As for an arc: never nearer than the whole circle.
    if (turn == beside) n.hollow = 1 / std::max(out, 1e-9);
  } else {
    double low = turn, high = std::max(half, turn);
    if (side_at(high, beside) <= under_at(high)) {
      low = high;
    } else {
      for (int i = 0; i < 50 && high - low > 1e-14; ++i) {
        const double middle = 0.5 * (low + high);
        (side_at(middle, beside) < under_at(middle) ? low : high) = middle;
      }
    }
    turn = 0.5 * (low + high);
    n.distance = std::max(side_at(turn, beside), under_at(turn));
    const double way = std::max(side_at(turn, beside) + core, 1e-12);
    const double grows = out * radius_ * std::sin(turn - beside) / way;  // per rad
    const double falls = fall / span;
    const double mix = turn < span ? std::clamp(-falls / std::max(grows - falls, 1e-12), 0.0, 1.0)
                                   : (side_at(turn, beside) > under_at(turn) ? 1.0 : 0.0);
    n.slope = mix * outward(turn) + (1 - mix) * Vec3(0, 0, -1);
    n.gap = 0;
  }
  if (const double end = std::max(end_side, end_under); end < n.distance) {
    n.distance = end;
    n.slope = end_side > end_under ? outward(span) : Vec3(0, 0, -1);
    n.gap = std::abs(end_side - end_under);
    n.hollow = Nearness::unbounded;
  }
  const double over = p.z() - (highest + top_);
  n.gap = std::min(n.gap, std::abs(n.distance - over));
  if (over > n.distance) {
    n.distance = over;
    n.slope = Vec3(0, 0, 1);
    n.curvature = n.hollow = 0;
  }
  return n;
}

double SweptDistance::at_share(const Vec3& p, double share) const {
  const Vec3 tip = nc::point_at(*motion_, share);
  return meridian_distance(way_of(p.x() - tip.x(), p.y() - tip.y()),
                           p.z() - tip.z() - profile_->base);
}

// The least over poses: places 5 degrees apart, then golden section; of a hollow body piece by
// piece, as the kernels' least_by_pieces.
double SweptDistance::along_path(const Vec3& p, double& share) const {
  const bool arc = motion_->kind == nc::PathKind::arc && motion_->sweep != 0;
  const int places =
      kind_ == SweepKind::ramp
          ? 1
          : std::clamp(
                static_cast<int>(std::ceil(std::abs(arc ? motion_->sweep : 0.0) / (pi / 36))), 40,
                4000);
  if (profile_->shape != ProfileShape::polygon)
    return least_share(
        places, [&](double t) { return at_share(p, t); }, share);
  double best = 1e60;
  const ProfileEdge* const end = profile_->edges.data() + profile_->edges.size();
  for (const ProfileEdge* from = profile_->edges.data(); from != end;) {
    const ProfileEdge* const to = end_of_piece(from, end);
    const std::span<const ProfileEdge> piece(from, to);
    from = to;
    if (!has_height(piece.data(), to)) continue;
    double there = 0;
    const auto at = [&](double t) {
      const Vec3 tip = nc::point_at(*motion_, t);
      return piece_distance(piece, way_of(p.x() - tip.x(), p.y() - tip.y()),
                            p.z() - tip.z() - profile_->base);
    };
    const double found = least_share(places, at, there);
    if (found >= best) continue;
    best = found;
    share = there;
  }
  return std::min(best, at_share(p, share));
}

Nearness SweptDistance::by_search(const Vec3& p) const {
  Nearness n;
  double share = 0;
  n.distance = along_path(p, share);
  // By differences: where two faces meet at the best pose, the slope is a mix of theirs.
  constexpr double step = 1e-5;
  for (int k = 0; k < 3; ++k) {
    const Vec3 e = step * Vec3::Unit(k);
    double unused = 0;
    n.slope[k] = (along_path(p + e, unused) - along_path(p - e, unused)) / (2 * step);
  }
  n.gap = 0;
  return n;
}

Nearness SweptDistance::near(const Vec3& p) const {
  switch (kind_) {
    case SweepKind::level_line:
    case SweepKind::level_arc:
      return level(p);
    case SweepKind::ball_ramp:
      return ball_ramp(p);
    case SweepKind::ramp:
      if (profile_->shape == ProfileShape::sharp) return cylinder_ramp(p);
      return by_search(p);
    case SweepKind::table:
      return helix_ ? cylinder_helix(p) : by_search(p);
  }
  return {};
}

double SweptDistance::at(const Vec3& p) const {
  switch (kind_) {
    case SweepKind::level_line:
    case SweepKind::level_arc:
      return meridian_distance(from_path(p).norm(), p.z() - foot_);
    case SweepKind::ball_ramp:
      return ball_ramp(p).distance;
    case SweepKind::ramp:
      if (profile_->shape == ProfileShape::sharp) return cylinder_ramp(p).distance;
      [[fallthrough]];
    case SweepKind::table: {
      if (helix_) return cylinder_helix(p).distance;
      double share = 0;
      return along_path(p, share);
    }
  }
  return 0;
}

Vec3 SweptDistance::nearest_tip(const Vec3& p) const {
  const double base = profile_->base;
  if (kind_ == SweepKind::level_line || kind_ == SweepKind::level_arc) {
    const Eigen::Vector2d away = from_path(p);
    return {p.x() - away.x(), p.y() - away.y(), foot_ - base};
  }
  if (kind_ == SweepKind::ball_ramp) {
    const Vec3 step = motion_->end - motion_->start;
    const Vec3 centre = motion_->start + Vec3(0, 0, base + profile_->corner);
    const double t = std::clamp((p - centre).dot(step) / step.squaredNorm(), 0.0, 1.0);
    return motion_->start + t * step;
  }
  double share = 0;
  along_path(p, share);
  return nc::point_at(*motion_, share);
}

}  // namespace proveout::stock
