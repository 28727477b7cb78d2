// Volumes of voxels of which the middle is enough.
#include <algorithm>
#include <cmath>

#include "sim/measure/plane_share.h"
#include "sim/measure/two_way_cell.h"

namespace proveout::measure {

using stock::NearMotions;

// Whether over one side of the voxel stock and part are heights, neither steep: the axis square to
// that side, or -1.
int TileJudge::even_axis(Cell& c) {
  constexpr double least_slope = 0.6;  // choice
  if (c.part != Side::cut || !turns_within(c, most_turned)) return -1;
  int axis = 0;
  c.p.slope.cwiseAbs().maxCoeff(&axis);
  const double sign = c.p.slope[axis] < 0 ? -1 : 1;
  if (c.stock != Side::cut) return axis;
  if (sheets_.empty()) return -1;
  const bool level = std::all_of(sheets_.begin(), sheets_.end(), [&](const Sheet& s) {
    return sign * s.slope[axis] >= least_slope && s.curvature * h_ < 0.5 &&
           s.bend < 2 * root3 * c.half;
  });
  return level ? axis : -1;
}

// The deepest and the highest place of the voxel, or what bounds them, lie little further off the
// part than the grid shows at its middle, where its distances are those of one face: so the middle
// stands for the voxel.
bool TileJudge::grid_tells(const Cell& c) const {
  if (c.stock != Side::cut || c.part != Side::cut) return false;
  const double off = c.p.distance - c.f, little = little_voxels * h_;
  return now_.most_excess - off <= little && now_.most_gouge + off <= little &&
         grid_slope(holding(c.middle)).norm() >= one_face;
}

// Nothing worse was found in the leaf so far (where something was, not all of a voxel is looked
// for), and at the voxel's middle the grid shows one face that lies along the part's: what else
// comes near makes no surface here.
bool TileJudge::one_face_along_part(const Cell& c) {
  if (c.stock != Side::cut || c.part != Side::cut) return false;
  const double little = grid_enough();
  if (std::max(leaf_gouge_, leaf_excess_) > little) return false;
  if (now_.gouge > little || now_.excess > little || std::abs(c.p.distance - c.f) > little)
    return false;
  const Vec3 slope = grid_slope(holding(c.middle));
  if (slope.norm() < one_face || slope.dot(c.p.slope) < one_face) return false;
  // No body reaches deeper than any one of its faces does.
  const double r = root3 * c.half;
  const double bend = in_.part.off_plane(c.p.on, beside * r, c.p.slope).above;
  return std::all_of(sheets_.begin(), sheets_.end(), [&](const Sheet& s) {
    if (s.slope.dot(c.p.slope) >= one_face || down_to(s, c, r) + bend <= little) return true;
    if (s.motion == NearMotions::none) return false;
    near_.faces_near(s.motion, c.middle, faces_);
    return std::any_of(faces_.begin(), faces_.end(), [&](const stock::Nearness& n) {
      return -n.slope.dot(c.p.slope) >= one_face && -n.distance <= c.f + little;
    });
  });
}

// By the middle.
void TileJudge::add_middle(const Cell& c) {
  const double size = 2 * c.half;
  const double q = plane_share(c.p.distance, c.p.slope, size),
               s = plane_share(c.f, c.p.slope, size);
  add_uniform(c, s, q, std::min(s, q));
}

// By columns a tenth of a millimetre wide: in each the heights of stock and part.
void TileJudge::add_columns(Cell& c, int axis) {
  const bool plain = turns_within(c, 1e-6);
  const double column = (plain ? 1 : 2) * finest_column;
  const int across = std::clamp(static_cast<int>(std::ceil(h_ / column)), 1, 6);
  const double wide = h_ / across;
  Vec3 size = Vec3::Constant(wide);
  size[axis] = h_;
  const double reach = std::abs(c.p.distance) + root3 * c.half + 1e-6;
  const int i = (axis + 1) % 3, j = (axis + 2) % 3;
  double stock = 0, part = 0, both = 0;
  for (int n = 0; n < across * across; ++n) {
    const int row = n / across;
    Vec3 way = Vec3::Zero();
    way[i] = (n % across + 0.5) * wide - c.half;
    way[j] = (row + 0.5) * wide - c.half;
    const Vec3 at = c.middle + way;
    double p = c.p.distance + c.p.slope.dot(way);
    Vec3 part_slope = c.p.slope;
    if (!plain) {
      const auto there = in_.part.nearest(at, reach, c.p.face);
      p = there.distance;
      part_slope = there.slope;
    }
    const double q = plane_share(p, part_slope.cwiseProduct(size), 1);
    double s = c.stock == Side::inside ? 1 : 0;
    if (c.stock == Side::cut) {
      double f = -1e30;
      Vec3 slope = c.p.slope, of_sheet;
      for (const Sheet& sheet : sheets_) {
        const double value = value_of(sheet, at, of_sheet);
        if (value <= f) continue;
        f = value;
        slope = of_sheet;
      }
      s = plane_share(f, slope.cwiseProduct(size), 1);
    }
    stock += s;
    part += q;
    both += std::min(s, q);
  }
  const double columns = across * across;
  add_uniform(c, stock / columns, part / columns, both / columns);
}

// Whether stock and part tell the same of all corners of a voxel in which the part has an edge: the
// distances are equal, or, at an edge where f is that of the faces and the part's that of the edge,
// on the same side and not further apart than that makes them (a corner's, root 3).
bool TileJudge::agrees(const Cell& c) {
  if (c.stock != Side::cut || c.part != Side::cut) return false;
  const double hair = 0.03 * h_;
  const auto alike = [&](double f, double p) {
    if (std::abs(f - p) <= hair) return true;
    const double less = std::min(std::abs(f), std::abs(p)),
                 more = std::max(std::abs(f), std::abs(p));
    return f * p > 0 && more <= 1.75 * less + hair;
  };
  if (!alike(c.f, c.p.distance)) return false;
  const double reach = std::abs(c.p.distance) + root3 * c.half + 1e-6;
  for (int n = 0; n < 8; ++n) {
    const Vec3 at = c.middle + c.half * Vec3((n & 1) ? 1 : -1, (n & 2) ? 1 : -1, (n & 4) ? 1 : -1);
    const double f =
        near_.value_beside(lists_[static_cast<std::size_t>(c.depth)], root3 * c.half, at);
    if (!alike(f, in_.part.nearest(at, reach, c.p.face).distance)) return false;
  }
  return true;
}

// Inside a part's corner both distances are those to faces: there, middles that lie within half a
// voxel of the part's surface sample how far the stock's stands off it, each for two.
void TileJudge::add_agreeing(const Cell& c) {
  const double q = plane_share(c.p.distance, c.p.slope, h_);
  const double off = c.p.distance < 0 && counts_once(c.p.distance) ? c.p.distance - c.f : 0;
  const double s = std::clamp(q + 2 * std::clamp(off / h_, -0.1, 0.1), 0.0, 1.0);
  add_uniform(c, s, q, std::min(s, q));
}

}  // namespace proveout::measure
