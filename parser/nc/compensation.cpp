#include "parser/nc/compensation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace proveout::nc {
namespace {

using Vec2 = Eigen::Vector2d;
Vec2 flat(const Vec3& p) { return p.head<2>(); }
double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }
Vec2 left_of(const Vec2& direction) { return Vec2(-direction.y(), direction.x()); }

bool moves_in_plane(const Motion& m) {
  return m.kind == PathKind::arc || (m.end - m.start).head<2>().norm() > 1e-9;
}

Vec2 leaving(const Motion& m) { return flat(tangent_at(m, 0)).normalized(); }
Vec2 arriving(const Motion& m) { return flat(tangent_at(m, 1)).normalized(); }

void set_flat(Vec3& p, const Vec2& q) {
  p.x() = q.x();
  p.y() = q.y();
}

// An arc's sweep from its start, centre, sense and a new end.
void resweep(Motion& m) {
  const Vec2 c = flat(m.centre), s = flat(m.start) - c, e = flat(m.end) - c;
  const double sign = m.sweep < 0 ? -1 : 1;
  double turn = sign * (std::atan2(e.y(), e.x()) - std::atan2(s.y(), s.x()));
  while (turn < -1e-9) turn += 2 * pi;
  while (turn > 2 * pi) turn -= 2 * pi;
  if (turn < 1e-9 && std::abs(m.sweep) > pi) turn = 2 * pi;
  m.sweep = sign * turn;
}

// As resweep, of an arc whose start or end has moved inwards: false where it has none left, which
// would read as nearly a whole turn.
bool resweep_shorter(Motion& m) {
  const double before = std::abs(m.sweep);
  resweep(m);
  return std::abs(m.sweep) <= before + 1e-6;
}

// By how much the direction at a joint may be off where its numbers are rounded to last_place (mm),
// rad. Each coordinate is off by half of it, so a point by at most e = last_place / sqrt(2).
double direction_error(const Motion& m, bool given_by_radius, double last_place) {
  const double e = last_place / std::sqrt(2.0);
  const double chord = (flat(m.end) - flat(m.start)).norm();
  if (m.kind != PathKind::arc) return 2 * e / chord;  // both ends off, against each other
  // By its centre: the radius through the joint is off at both of its ends. By R: the angle between
  // chord and tangent is asin(chord / 2r), which near half a turn rises steeply; its change over
  // the error of chord and R, and the chord's own direction.
  const double r = arc_radius(m), by_centre = 2 * e / r;
  const auto half = [&](double c, double radius) {
    return std::asin(std::clamp(c / (2 * radius), 0.0, 1.0));
  };
  const double longer = half(chord + 2 * e, std::max(r - last_place / 2, 1e-9));
  const double shorter = half(std::max(chord - 2 * e, 0.0), r + last_place / 2);
  const double by_radius =
      std::max(longer - half(chord, r), half(chord, r) - shorter) + 2 * e / std::max(chord, 1e-9);
  return given_by_radius ? by_radius : by_centre;
}

constexpr std::size_t most_seen = 2000;
constexpr double touching = 1e-9;    // mm, paths this far apart meet
constexpr double coinciding = 1e-6;  // mm, ends this far apart are one

// Where two offset paths meet, nearest to `near`; each a line or a circle, unbounded.
std::optional<Vec2> meeting(const Motion& a, const Motion& b, const Vec2& near) {
  const auto line_circle = [&](const Motion& l, const Motion& c) -> std::optional<Vec2> {
    const Vec2 d = (flat(l.end) - flat(l.start)).normalized(), f = flat(l.start) - flat(c.centre);
    // By the centre's distance from the line: the squares of a long line's length would drown what
    // is left of a round little larger than the tool.
    const double r = arc_radius(c), m = f.dot(d), off = std::abs(cross(d, f));
    if (off > r + touching) return std::nullopt;
    const double disc = std::max((r - off) * (r + off), 0.0);
    const Vec2 p = flat(l.start) + (-m + std::sqrt(disc)) * d,
               q = flat(l.start) + (-m - std::sqrt(disc)) * d;
    return (p - near).norm() < (q - near).norm() ? p : q;
  };
  const bool arc_a = a.kind == PathKind::arc, arc_b = b.kind == PathKind::arc;
  if (!arc_a && !arc_b) {
    const Vec2 u = flat(a.end) - flat(a.start), v = flat(b.end) - flat(b.start);
    const double det = cross(u, v);
    if (!(std::abs(det) > 1e-12 * u.norm() * v.norm())) return std::nullopt;
    return Vec2(flat(a.start) + cross(flat(b.start) - flat(a.start), v) / det * u);
  }
  if (arc_a != arc_b) return arc_a ? line_circle(b, a) : line_circle(a, b);
  const Vec2 c = flat(a.centre), gap = flat(b.centre) - c;
  const double r = arc_radius(a), s = arc_radius(b), d = gap.norm();
  if (d < 1e-12) return std::nullopt;
  const double x = (d * d + r * r - s * s) / (2 * d), h2 = r * r - x * x;
  if (std::abs(x) > r + touching) return std::nullopt;
  const Vec2 foot = c + x / d * gap, side = std::sqrt(std::max(h2, 0.0)) / d * left_of(gap);
  return (foot + side - near).norm() < (foot - side - near).norm() ? Vec2(foot + side)
                                                                   : Vec2(foot - side);
}

}  // namespace

void Compensation::begin(int side, double radius, const Vec3& start, bool strict) {
  side_ = side;
  radius_ = radius;
  strict_ = strict;
  entered_ = false;
  centre_ = start_ = start;
  seen_.clear();
  pending_.reset();
  programmed_.reset();
}

void Compensation::pause(const Emit& emit) {
  if (pending_) emit(*pending_);
  pending_.reset();
}

void Compensation::end(const Emit& emit) {
  if (pending_) emit(*pending_);
  pending_.reset();
  programmed_.reset();
  side_ = 0;
}

// The path beside a programmed motion, at the tool's radius.
std::optional<Motion> Compensation::beside(const Motion& m, std::string& why) const {
  Motion out = m;
  const double shift = side_ * radius_;
  if (m.kind != PathKind::arc) {
    const Vec2 n = left_of(leaving(m));
    set_flat(out.start, flat(m.start) + shift * n);
    set_flat(out.end, flat(m.end) + shift * n);
    return out;
  }
  // Left of a counter-clockwise arc lies its centre.
  const double inward = (m.sweep > 0 ? 1 : -1) * shift;
  const double r = arc_radius(m);
  if (inward >= r - 1e-9) {
    why = "the tool's radius is not less than the arc's";
    return std::nullopt;
  }
  const Vec2 c = flat(m.centre);
  set_flat(out.start, c + (r - inward) / r * (flat(m.start) - c));
  set_flat(out.end, c + (r - inward) / r * (flat(m.end) - c));
  return out;
}

// Appendix B: the tool goes from where it stands to a point on the tool's circle about the end
// point. For a straight first move the right angle of the triangle start - tangent point - end lies
// at the end centre.
std::optional<std::string> Compensation::first(const Programmed& m) {
  const Vec2 from = flat(centre_), to = flat(m.end);
  Motion out = m;
  out.start = centre_;
  if (m.kind != PathKind::arc) {
    const double reach = (to - from).norm();
    if (reach <= radius_ + 1e-12) {
      return "the first move under cutter compensation is not longer than the tool's radius: it "
             "would gouge";
    }
    const double opening = std::asin(radius_ / reach);
    const Vec2 way = to - from;
    const double turn = side_ * opening, along = reach * std::cos(opening);
    const Vec2 d(way.x() * std::cos(turn) - way.y() * std::sin(turn),
                 way.x() * std::sin(turn) + way.y() * std::cos(turn));
    set_flat(out.end, from + along * d / reach);
    pending_ = out;
  } else {
    std::string why;
    const auto offset = beside(m, why);
    if (!offset) return why;
    // An arc from where the tool stands to the end of the offset arc, tangent there: about a centre
    // on the line through both.
    const Vec2 end = flat(offset->end), n = (end - flat(m.centre)).normalized(), gap = from - end;
    const double along = gap.dot(n);
    if (std::abs(along) < 1e-9)
      return "the first arc under cutter compensation has no tangent entry";
    const double r = gap.squaredNorm() / (2 * along);
    out.end = offset->end;
    set_flat(out.centre, end + r * n);
    if (std::abs(r) < radius_ - 1e-9) return "the first arc under cutter compensation would gouge";
    resweep(out);
    pending_ = out;
  }
  entered_ = true;
  programmed_ = m;
  return std::nullopt;
}

void Compensation::step_over(const Motion& m, Motion& offset, const Emit& emit) const {
  const Vec2 before = arriving(*programmed_), after = leaving(m);
  const double turn = std::atan2(cross(before, after), before.dot(after));
  Motion step = m;
  step.kind = m.kind == PathKind::rapid ? PathKind::rapid : PathKind::line;
  step.start = centre_;
  step.end = centre_;
  set_flat(step.end, flat(offset.start));
  if (std::abs(turn) >= 1e-6 && turn * side_ < 0 && radius_ > 0) {
    step.kind = PathKind::arc;
    step.plane = Plane::xy;
    step.centre = centre_;
    set_flat(step.centre, flat(m.start));
    step.sweep = -side_ * 1e-3;
    resweep(step);
    if (std::abs(step.sweep) > 1e-9) emit(step);
  } else if (length(step) > 1e-9) {
    emit(step);
  }
  offset.start = step.end;
}

// Whether the path goes on without a corner: tangent, or concave by no more than rounding to the
// last place printed makes of a tangent joint, and so little that the tool would cut less than that
// place too deep. The next move then starts where the one before ends.
bool Compensation::straight_on(const Programmed& m, double turn, Motion& offset, const Emit& emit) {
  const double angle = std::abs(turn);
  if (angle >= 1e-6) {
    const bool concave = turn * side_ > 0;
    const double rounding = direction_error(*programmed_, programmed_->by_radius, last_place_) +
                            direction_error(m, m.by_radius, last_place_);
    if (!concave || angle > rounding || radius_ * (1 - std::cos(angle)) > last_place_ ||
        pending_->kind == PathKind::rapid || m.kind == PathKind::rapid)
      return false;
  }
  Motion moved = offset;
  set_flat(moved.start, flat(pending_->end));
  if (moved.kind == PathKind::arc) {
    // The two ends lie the tool's radius times the angle apart: of a round little larger than the
    // tool, whose path is short, that is many times the angle.
    const double before = std::abs(moved.sweep), r = arc_radius(offset);
    resweep(moved);
    const double most = 2 * angle * std::max(1.0, radius_ / std::max(r, 1e-9)) + 1e-6;
    if (std::abs(std::abs(moved.sweep) - before) > std::min(most, before)) return false;
  } else if ((flat(moved.end) - flat(moved.start)).dot(leaving(offset)) < 0) {
    return false;
  }
  offset = moved;
  emit(*pending_);
  return true;
}

std::optional<std::string> Compensation::join(const Programmed& m, Motion& offset,
                                              const Emit& emit) {
  const Vec2 before = arriving(*programmed_), after = leaving(m);
  const double turn = std::atan2(cross(before, after), before.dot(after));
  const Vec2 corner = flat(m.start);
  if (straight_on(m, turn, offset, emit)) return std::nullopt;
  if (turn * side_ < 0) {
    // The tool is on the outside: round the corner on an arc of its own radius.
    emit(*pending_);
    Motion round = m;
    round.kind = PathKind::arc;
    round.plane = Plane::xy;
    round.start = pending_->end;
    round.end = pending_->end;
    set_flat(round.end, flat(offset.start));
    round.centre = pending_->end;
    set_flat(round.centre, corner);
    round.sweep = -side_ * 1e-3;
    resweep(round);
    if (radius_ > 0 && std::abs(round.sweep) > 1e-9) emit(round);
    offset.start = round.end;
    return std::nullopt;
  }
  if (strict_) return "a concave corner under cutter compensation";
  if (pending_->kind == PathKind::rapid || m.kind == PathKind::rapid) {
    emit(*pending_);
    offset.start = pending_->end;
    return std::nullopt;
  }
  if ((flat(pending_->end) - flat(offset.start)).norm() < coinciding) {
    // The way in may lie on the path it leads to, whose lines have no point of their own then.
    set_flat(offset.start, flat(pending_->end));
    emit(*pending_);
    offset.start.z() = pending_->end.z();
    return std::nullopt;
  }
  const auto meet = meeting(*pending_, offset, corner);
  if (!meet) return "a concave corner the tool does not fit into";
  const Vec2 way_before = leaving(*pending_);
  set_flat(pending_->end, *meet);
  if (pending_->kind == PathKind::arc) {
    if (!resweep_shorter(*pending_))
      return "a concave corner the tool does not fit into: the arc before it is too short";
  } else if ((flat(pending_->end) - flat(pending_->start)).dot(way_before) < -1e-9) {
    return "a concave corner the tool does not fit into: the move before it is too short";
  }
  const Vec2 way_after = leaving(offset);
  set_flat(offset.start, *meet);
  if (offset.kind == PathKind::arc) {
    if (!resweep_shorter(offset))
      return "a concave corner the tool does not fit into: the arc behind it is too short";
  } else if ((flat(offset.end) - flat(offset.start)).dot(way_after) < -1e-9) {
    return "a concave corner the tool does not fit into: the move behind it is too short";
  }
  emit(*pending_);
  offset.start.z() = pending_->end.z();
  return std::nullopt;
}

std::optional<std::string> Compensation::add(const Motion& programmed, bool by_radius,
                                             const Emit& emit) {
  Programmed m;
  static_cast<Motion&>(m) = programmed;
  m.by_radius = by_radius;
  if (seen_.size() < most_seen) seen_.push_back(m);
  return follow(m, emit);
}

std::string Compensation::largest_that_fits() const {
  if (strict_ || !(radius_ > 0) || seen_.size() == most_seen) return {};
  const auto fits = [&](double radius) {
    Compensation other;
    other.begin(side_, radius, start_, false);
    other.last_place(last_place_);
    for (const Programmed& m : seen_) {
      if (other.follow(m, [](const Motion&) {})) return false;
    }
    return true;
  };
  double low = 0, high = radius_;
  for (int i = 0; i < 40; ++i) {
    const double middle = (low + high) / 2;
    (fits(middle) ? low : high) = middle;
  }
  // Rounded down: a tool of the size that is named must pass.
  const double diameter = std::floor(2 * low * 1000) / 1000;
  if (!(diameter > 0)) return "no tool fits as far as here: check the contour and the side";
  return fmt::format("the largest tool that comes as far as here is {:g} mm in diameter", diameter);
}

std::optional<std::string> Compensation::follow(const Programmed& m, const Emit& emit) {
  if (m.kind == PathKind::arc && m.plane != Plane::xy)
    return "an arc outside the xy plane under cutter compensation";
  if (!moves_in_plane(m)) {
    // Up or down: the tool's centre stays beside the contour.
    Motion vertical = m;
    if (pending_) {
      emit(*pending_);
      vertical.start = pending_->end;
      pending_.reset();
    } else {
      vertical.start = centre_;
    }
    vertical.end = vertical.start;
    vertical.end.z() = m.end.z();
    emit(vertical);
    centre_ = vertical.end;
    return std::nullopt;
  }
  if (!entered_) {
    const auto why = first(m);
    if (pending_) centre_ = pending_->end;
    return why;
  }
  std::string why;
  auto offset = beside(m, why);
  if (!offset) return why;
  if (pending_) {
    if (const auto problem = join(m, *offset, emit)) return problem;
  } else {
    // Behind a vertical move or a wait the tool stands at the corner already: round it outside,
    // step over inside.
    step_over(m, *offset, emit);
  }
  pending_ = *offset;
  programmed_ = m;
  centre_ = pending_->end;
  return std::nullopt;
}

}  // namespace proveout::nc
