// The deepest and highest places of the stock's surface in a voxel.
#include <algorithm>
#include <array>
#include <cmath>

#include "sim/measure/two_way_cell.h"

namespace proveout::measure {
namespace {

using stock::NearMotions;

// Where up to three planes, value + slope . x = 0, meet: of such places the one nearest to 0. det:
// of the slopes' products, 1 where all are square to each other. False: nearly parallel.
bool least_step(std::span<const double> values, std::span<const Vec3> slopes, Vec3& step,
                double& det) {
  if (values.size() == 1) {
    det = slopes[0].squaredNorm();
    if (!(det > 1e-6)) return false;
    step = -values[0] / det * slopes[0];
    return true;
  }
  if (values.size() == 2) {
    const double aa = slopes[0].squaredNorm(), bb = slopes[1].squaredNorm(),
                 ab = slopes[0].dot(slopes[1]);
    det = aa * bb - ab * ab;
    if (!(det > 1e-6)) return false;
    step = -((values[0] * bb - values[1] * ab) * slopes[0] +
             (values[1] * aa - values[0] * ab) * slopes[1]) /
           det;
    return true;
  }
  const Vec3 ab = slopes[0].cross(slopes[1]), bc = slopes[1].cross(slopes[2]),
             ca = slopes[2].cross(slopes[0]);
  const double triple = slopes[0].dot(bc);
  det = triple * triple;
  if (!(det > 1e-6)) return false;
  step = -(values[0] * bc + values[1] * ca + values[2] * ab) / triple;
  return true;
}

}  // namespace

// A place on the stock's surface, or a corner of a tool's body: kept if it is the voxel's worst.
void TileJudge::consider(const Cell& c, const Vec3& at) {
  if (((at - c.middle).cwiseAbs().array() > 1.1 * c.half).any()) return;
  // The plane through the part's face tells of most places that they are not the worst.
  const double plane = c.p.distance + c.p.slope.dot(at - c.p_at);
  if (part_off_.above - plane <= now_.gouge && plane + part_off_.below <= now_.excess) return;
  const double same = 1e-8;  // mm: many faces meet in the places others met in
  if (std::any_of(considered_.begin(), considered_.end(),
                  [&](const Vec3& known) { return (known - at).squaredNorm() < same * same; }))
    return;
  considered_.push_back(at);
  const double reach = std::abs(c.p.distance) + (at - c.p_at).norm() + 1e-6;
  const double p = in_.part.nearest(at, reach, c.p.face).distance;
  if (-p <= now_.gouge && p <= now_.excess) return;
  std::uint32_t by = NearMotions::none;
  const double f = near_.value_beside(lists_[static_cast<std::size_t>(c.depth)],
                                      (at - c.middle).norm(), at, &by);
  if (!(f > -on_surface)) return;  // in material
  if (-p > now_.gouge) {
    now_.gouge = -p;
    now_.gouge_at = at;
    now_.gouge_by = by;
  }
  if (f < on_surface && p > now_.excess && !(p > 0 && !in_.sawn.empty() && sawn_off(at)) &&
      (p <= 0 || material_behind(c, at))) {
    now_.excess = p;
    now_.excess_at = at;
    now_.excess_by = by;
  }
}

// Whether there is material at a place of the surface: not where two cuts only just meet, or one
// ends in the blank's own face.
bool TileJudge::material_behind(const Cell& c, const Vec3& at) {
  Vec3 inwards = Vec3::Zero();
  for (const Sheet& s : sheets_) {
    Vec3 slope;
    if (std::abs(value_of(s, at, slope)) < 10 * on_surface) inwards -= slope;
  }
  const double length = inwards.norm();
  if (length < 1e-3) return false;
  const Vec3 behind = at + 0.01 * h_ / length * inwards;
  return near_.value_beside(lists_[static_cast<std::size_t>(c.depth)], (behind - c.middle).norm(),
                            behind) < -on_surface;
}

// Whether sheets may meet on the stock's surface in the cell, and worse than is known: where their
// planes do, no other sheet lies higher by more than all may bend, and the place is not far
// outside.
bool TileJudge::may_meet(const Cell& c, std::span<const Sheet* const> sheets) const {
  std::array<double, 3> values{};
  std::array<Vec3, 3> slopes;
  double bend = 0.02 * c.half;
  for (std::size_t k = 0; k < sheets.size(); ++k) {
    const Sheet& s = *sheets[k];
    if (s.bend > 0.5 * c.half) return true;  // its plane tells nothing
    bend = std::max(bend, s.bend);
    values[k] = s.value;
    slopes[k] = s.slope;
  }
  Vec3 step = Vec3::Zero();
  double det = 0;
  if (!least_step({values.data(), sheets.size()}, {slopes.data(), sheets.size()}, step, det))
    return sheets.size() == 1;
  if (det < 0.01) return true;  // nearly one face: a small bend moves the place far
  const double aside = 8 * bend / std::sqrt(det);
  if ((step.cwiseAbs().array() > 1.1 * c.half + aside).any()) return false;
  for (const Sheet& s : sheets_) {
    if (s.value + s.slope.dot(step) - std::max(s.bend, bend) > bend + aside) return false;
  }
  return true;
}

// To where all these sheets meet, the least way there from the cell's middle: Newton's method with
// the least-norm solution.
void TileJudge::meet(const Cell& c, std::span<const Sheet* const> sheets) {
  if (!may_meet(c, sheets)) return;
  Vec3 at = c.middle;
  std::array<double, 3> values{};
  std::array<Vec3, 3> slopes;
  const std::size_t n = sheets.size();
  for (int round = 0; round < 8; ++round) {
    double off = 0, det = 0;
    for (std::size_t k = 0; k < n; ++k) {
      values[k] = value_of(*sheets[k], at, slopes[k]);
      off = std::max(off, std::abs(values[k]));
    }
    if (off < 1e-9) break;
    Vec3 step = Vec3::Zero();
    if (!least_step({values.data(), n}, {slopes.data(), n}, step, det)) return;
    at += step;
    if (!((at - c.middle).cwiseAbs().array() <= 3 * c.half).all()) return;
  }
  consider(c, at);
}

// Along a face that bends, to its deepest or highest place above the part's face: a ball's is
// where its slope is the part's, the sine of the angle between them times its radius away.
void TileJudge::climb(const Cell& c, bool missing) {
  const Sheet& sheet = sheets_.front();
  if (sheet.curvature < 1e-6) return;
  Vec3 at = missing ? now_.gouge_at : now_.excess_at;
  for (int round = 0; round < 4; ++round) {
    Vec3 slope;
    double value = value_of(sheet, at, slope);
    Vec3 along = c.p.slope - c.p.slope.dot(slope) * slope / slope.squaredNorm();
    if (missing) along = -along;
    if (along.norm() < 1e-7) break;
    at += along / sheet.curvature;
    for (int k = 0; k < 2; ++k) {
      value = value_of(sheet, at, slope);
      at -= value * slope / slope.squaredNorm();
    }
    if (!((at - c.middle).cwiseAbs().array() <= 3 * c.half).all()) return;
  }
  consider(c, at);
}

// How far a sheet may lie below the part's face, or above it, within r of the cell's middle by its
// plane and bend alone; the part's own bend comes on top.
double TileJudge::down_to(const Sheet& s, const Cell& c, double r) {
  const double a = c.p.slope.dot(s.slope), v = s.value;
  const double aside = std::sqrt(std::max(0.0, r * r - v * v) * std::max(0.0, 1 - a * a));
  return -c.p.distance + (r * a <= v ? r : aside + v * a) + s.rise;
}

double TileJudge::up_to(const Sheet& s, const Cell& c, double r) {
  const double a = c.p.slope.dot(s.slope), v = s.value;
  const double aside = std::sqrt(std::max(0.0, r * r - v * v) * std::max(0.0, 1 - a * a));
  return c.p.distance + (r * a <= -v ? r : aside - v * a) + s.bend;
}

// How far the part's face leaves its plane within r of the cell's middle.
solid::FaceTree::OffPlane TileJudge::off_plane(const Cell& c, double r) const {
  if (one_plane_in(c)) return {};
  return in_.part.off_plane(c.p.on, beside * r, c.p.slope);
}

// The sheets bound what the cell can hold: material lies below all of them, air above one.
void TileJudge::bounds(const Cell& c, double r, const solid::FaceTree::OffPlane& part,
                       double& most_gouge, double& most_excess) const {
  most_gouge = -1e9;
  most_excess = 1e9;
  for (const Sheet& s : sheets_) {
    most_excess = std::min(most_excess, up_to(s, c, r) + part.below);
    most_gouge = std::max(most_gouge, down_to(s, c, r) + part.above);
  }
}

// Whether how far the stock stands off the part's face at a small cell's middle is so all over it,
// within a tenth of its edge and what is little for a voxel.
bool TileJudge::middle_tells(const Cell& c) const {
  if (c.stock != Side::cut || c.part != Side::cut || sheets_.empty()) return false;
  double most_gouge = 0, most_excess = 0;
  const double r = root3 * c.half;
  bounds(c, r, off_plane(c, r), most_gouge, most_excess);
  const double off = c.p.distance - c.f, little = std::min(little_voxels * h_, 0.2 * c.half);
  return most_excess - off <= little && most_gouge + off <= little;
}

// The sheets that matter, alone and where two or three of them meet. The highest was met before.
void TileJudge::meet_all(const Cell& c) {
  const std::size_t n = matter_.size();
  for (const Sheet* s : matter_) {
    const Sheet* alone[1] = {s};
    if (s != &sheets_.front()) meet(c, alone);
  }
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      const Sheet* two[2] = {matter_[i], matter_[j]};
      meet(c, two);
      for (std::size_t k = j + 1; k < n; ++k) {
        const Sheet* three[3] = {matter_[i], matter_[j], matter_[k]};
        meet(c, three);
      }
    }
  }
}

// The deepest and highest places of the stock's surface in a voxel: on its faces, where two or
// three of them meet, and where corners of the tool's outline stood. Only where they can be worse
// than what is known of the leaf: missing within tolerance says nothing.
void TileJudge::features(Cell& c) {
  const double r = 1.1 * root3 * c.half;
  double p = c.p.distance, slack = (c.middle - c.p_at).norm();
  const double gouge_tells = told(in_.gouge_tolerance), excess_tells = told(in_.excess_tolerance);
  const double worst_gouge = std::max(leaf_gouge_, gouge_tells);
  const double worst_excess = std::max(leaf_excess_, excess_tells);
  if (c.part == Side::inside && -p + slack + r <= gouge_tells) return;
  if (c.part == Side::outside && p + slack + r <= excess_tells) return;
  Cell here = c;
  if (slack > 0) {
    here.p = in_.part.nearest(c.middle, std::abs(p) + slack + 1e-6);
    here.p_at = c.middle;
    here.turned = -1;
    p = here.p.distance;
  }
  if (sheets_.empty()) return;
  const bool a_height = turns_within(here, most_turned);
  if (!(slack > 0)) c.turned = here.turned;
  part_off_ = off_plane(here, r);
  considered_.clear();
  const Sheet* one[1] = {&sheets_.front()};
  meet(here, one);
  bool all = true;
  if (std::max(now_.gouge, now_.excess) >= 0 && a_height) {
    bounds(here, r, part_off_, now_.most_gouge, now_.most_excess);
    const bool deeper = now_.most_gouge > worst_gouge, higher = now_.most_excess > worst_excess;
    if (sheets_.size() == 1) {
      if (deeper && now_.gouge > 0) climb(here, true);
      if (higher && now_.excess > 0) climb(here, false);
    }
    if (!deeper && !higher) return;
    all = higher;
  }
  // Where nothing higher can be found, a deeper place lies on no sheet that stays above it.
  matter_.clear();
  for (const Sheet& s : sheets_) {
    if (all || down_to(s, here, r) + part_off_.above > worst_gouge) matter_.push_back(&s);
  }
  meet_all(here);
  if (-p + r <= worst_gouge) return;
  rims_.clear();
  for (const Sheet& s : sheets_) {
    if (s.motion != NearMotions::none) near_.rims(s.motion, c.middle, rims_);
  }
  for (const Vec3& at : rims_) consider(here, at);
}

}  // namespace proveout::measure
