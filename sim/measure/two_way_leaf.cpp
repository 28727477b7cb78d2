// A leaf of 8^3 voxels in which the stock's surface passes: which of its voxels can hold anything
// beyond tolerance, or a volume the grid does not tell. Those are looked into by the motions' own
// distances; of the others the grid's distance at the middle, which is the nearest motion's own, is
// enough.
//
// In a voxel in which both surfaces pass, with f the stock's distance and p the part's, left on at
// a place of the stock's surface is p - f there, missing is f - p.
//   Left on: f is never less than any one motion's distance. So p - f is at most what it is at the
//   middle against the motion named there, and by how much its face and the part's turn away from
//   each other and bend within the voxel.
//   Missing: bodies that are unions of balls no smaller than R (round ones) lie against the part's
//   face at their deepest place, where slopes are the same; the voxel's middle, at most r from it,
//   is then no more than r^2 / 2 R higher above the body than above the part. Of bodies with edges
//   (sharp ones) all that come near are asked.
#include <algorithm>
#include <cmath>

#include "sim/measure/plane_share.h"
#include "sim/measure/two_way_cell.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using stock::NearMotions;

}  // namespace

// The round motions' least radius near here; smaller ones count as sharp.
void TileJudge::sort_motions() {
  sharp_.clear();
  const double least = 3 * h_;  // choice
  double radius = 1e9;
  for (const stock::Candidate& m : near_.all()) {
    const double r = near_.round_radius(m.motion);
    if (r < least)
      sharp_.push_back(m);
    else
      radius = std::min(radius, r);
  }
  const double r = 0.5 * root3 * h_;
  poke_ = r * r / (2 * radius);
}

// f about a voxel as the grid tells it: how steep it is there, 1 along one face.
Vec3 TileJudge::grid_slope(const Coord& at) const {
  return Vec3(grid_.at(at.offsetBy(1, 0, 0)) - grid_.at(at.offsetBy(-1, 0, 0)),
              grid_.at(at.offsetBy(0, 1, 0)) - grid_.at(at.offsetBy(0, -1, 0)),
              grid_.at(at.offsetBy(0, 0, 1)) - grid_.at(at.offsetBy(0, 0, -1))) /
         (2 * h_);
}

void TileJudge::cut_leaf(Cell leaf, const Coord& origin) {
  part_about(leaf);
  hard_.fill(0);
  hard_any_ = false;
  const auto* steps = grid_.leaf(origin)->buffer().data();
  const auto* named = fields_.provenance->tree().probeConstLeaf(origin);
  const stock::MotionId all_named =
      named != nullptr ? 0
                       : static_cast<stock::MotionId>(fields_.provenance->tree().getValue(origin));
  bool missing_possible = false;
  for (int n = 0; n < 8; ++n) {
    Cell c = leaf;
    c.depth = leaf.depth + 1;
    c.half = 0.5 * leaf.half;
    c.middle = leaf.middle + c.half * Vec3((n & 1) ? 1 : -1, (n & 2) ? 1 : -1, (n & 4) ? 1 : -1);
    part_about(c);
    const Coord low((n & 1) * 4, (n & 2) * 2, n & 4);
    for (int i = 0; i < 64; ++i) {
      const Coord in = low.offsetBy(i >> 4, i >> 2 & 3, i & 3);
      const int number = in.x() * 64 + in.y() * 8 + in.z();
      LeafVoxel v;
      v.number = number;
      v.at = origin + in;
      v.f = static_cast<double>(grid_.mm(steps[number]));
      v.by =
          named != nullptr
              ? static_cast<stock::MotionId>(named->getValue(static_cast<openvdb::Index>(number)))
              : all_named;
      leaf_voxel(c, v);
      missing_possible = missing_possible || v.missing_possible;
    }
  }
  if (missing_possible && !sharp_.empty()) {
    mark_sharp(leaf, sharp_);
  }
  // Those of which the grid is not enough are now known; of the rest, it is.
  for (const EasyVoxel& e : easy_) {
    if (hard_[static_cast<std::size_t>(e.number)] == 0) add_easy(e);
  }
  easy_.clear();
  if (!hard_any_) return;
  hard_cells(leaf, Coord(0, 0, 0), 8);
}

// The part about a cell: its distance from the middle, and how far its normals turn within what any
// place of the cell may be nearest to.
void TileJudge::part_about(Cell& c) {
  c.p = in_.part.nearest(c.middle, 1e30, last_face_);
  c.p_at = c.middle;
  last_face_ = c.p.face;
  const double r = root3 * c.half;
  c.part = std::abs(c.p.distance) <= r ? Side::cut
           : c.p.distance < 0          ? Side::inside
                                       : Side::outside;
  c.apart = c.part == Side::cut
                ? in_.part.normals_apart(c.middle, std::abs(c.p.distance) + 2 * r, c.p.slope, 1e-9)
                : 2;
  last_ = c.p;
  last_at_ = c.middle;
}

void TileJudge::leaf_voxel(const Cell& about, LeafVoxel& v) {
  const double half = 0.5 * h_, r = root3 * half;
  const Vec3 middle = fields_.middle(v.at);
  const bool stock_cut = std::abs(v.f) <= r;
  part_at_[static_cast<std::size_t>(v.number)].face = -1;
  solid::FaceTree::Nearest p;
  if (about.apart < 1e-9) {
    p = about.p;
    p.distance += p.slope.dot(middle - about.middle);
  } else {
    const double way = (middle - last_at_).norm(), least = std::abs(last_.distance) - way;
    if (least > r && !stock_cut) {
      p.distance = last_.distance > 0 ? least : -least;
    } else {
      p = last_ = in_.part.nearest(middle, std::abs(last_.distance) + way + 1e-6, last_.face);
      last_at_ = middle;
      part_at_[static_cast<std::size_t>(v.number)] = p;
    }
  }
  const bool part_cut = std::abs(p.distance) <= r;
  if (counts_once(v.f)) out_.surface_mm2 += h_ * h_;
  if (std::abs(v.f) < h_ && grid_slope(v.at).norm() < 0.7) out_.thin_mm3 += h_ * h_ * h_;
  Cell c;
  c.middle = middle;
  c.half = half;
  c.depth = voxel_depth;
  c.p = p;
  c.p_at = middle;
  c.f = v.f;
  if (!stock_cut) c.stock = v.f < 0 ? Side::inside : Side::outside;
  if (!part_cut) c.part = p.distance < 0 ? Side::inside : Side::outside;
  if (!stock_cut && !part_cut) {
    const double s = v.f < 0 ? 1 : 0, q = p.distance < 0 ? 1 : 0;
    add_uniform(c, s, q, s * q);
    if (s != q) record_block(c);
    return;
  }
  v.missing_possible = stock_cut && p.distance < r;
  EasyVoxel e{v.number, v.at, v.f, p.distance, p.slope, p.slope};
  if (easy(about, c, v, e))
    easy_.push_back(e);
  else
    set_hard(v.number);
}

void TileJudge::set_hard(int number) {
  hard_[static_cast<std::size_t>(number)] = 1;
  hard_any_ = true;
}

// Whether the grid is enough of a voxel. e: what its volumes are to be summed with.
bool TileJudge::easy(const Cell& about, const Cell& c, const LeafVoxel& v, EasyVoxel& e) {
  const double r = root3 * c.half, f = c.f, p = c.p.distance;
  const double deep = looked_for(in_.gouge_tolerance), high = looked_for(in_.excess_tolerance);
  const bool sawn = !in_.sawn.empty() && sawn_cell(c) != 0;
  if (c.stock != Side::cut) return false;  // the part's face lies bare, or within material
  const Vec3 slope = grid_slope(v.at);
  const double steep = slope.norm();
  if (!(steep >= one_face)) return false;
  if (c.part != Side::cut) {
    // Surface off the part's, by less than the tolerance throughout.
    if (sawn || (p < 0 ? -p + r > deep : p + r > high)) return false;
    e.stock_slope = slope / steep;
    return true;
  }
  solid::FaceTree::OffPlane part;
  if (about.apart >= 1e-9) part = in_.part.off_plane(c.p.on, beside * r, c.p.slope);
  if (f - p + poke_ + part.above > deep) return false;
  if (p - f + part.below > high) return false;
  if (sawn) return std::abs(f - p) <= 0.05 * h_;
  // Left on, against the motion named here or, where an edge of it is near, beside here.
  const auto told_by = [&](stock::MotionId by) {
    const Sheet s = sheet_named(by, c);
    if (s.bend > h_ || std::abs(s.value - f) > 0.1 * h_) return false;
    return p - s.value + c.half * (c.p.slope - s.slope).lpNorm<1>() + s.bend + part.below <= high;
  };
  if (told_by(v.by)) return true;
  stock::MotionId last = v.by;
  for (int k = 0; k < 12; ++k) {
    Coord there = v.at;
    there[k % 6 >> 1] += ((k & 1) ? 1 : -1) * (k < 6 ? 1 : 3);
    const auto by = static_cast<stock::MotionId>(provenance_.getValue(there));
    if (by != v.by && by != last && told_by(by)) return true;
    last = by;
  }
  return false;
}

// Of the motion, or the blank, with this number.
TileJudge::Sheet TileJudge::sheet_named(stock::MotionId by, const Cell& c) {
  Sheet none;
  none.bend = 1e9;
  if (by != stock::from_blank) {
    const std::uint32_t motion = near_.find(by);
    return motion == NearMotions::none ? none : sheet_of(motion, c.middle, c.half);
  }
  blank_.clear();
  blank_sheets(c, blank_);
  const auto top =
      std::max_element(blank_.begin(), blank_.end(),
                       [](const Sheet& a, const Sheet& b) { return a.value < b.value; });
  return top == blank_.end() ? none : *top;
}

// Volumes of a voxel on the part's slope: middles along a face sample the height of the stock's
// surface over the part's, which is neither's bend.
void TileJudge::add_easy(const EasyVoxel& e) {
  const double s = plane_share(e.f, e.stock_slope, h_), q = plane_share(e.p, e.part_slope, h_);
  const double r = 0.5 * root3 * h_, volume = h_ * h_ * h_;
  const double both = std::abs(e.p) <= r ? std::min(s, q) : (e.p < 0 ? s : 0);
  const double part = std::abs(e.p) <= r ? q : (e.p < 0 ? 1 : 0);
  out_.shared_mm3 += both * volume;
  out_.gouge_mm3 += (part - both) * volume;
  out_.excess_mm3 += (s - both) * volume;
  if (!counts_once(e.f)) return;
  const double off = e.p - e.f, held_to = 2 * h_ / stock::Stock::Fields::steps_a_voxel;
  if (std::abs(off) < held_to) return;  // less than the grid holds
  if (off <= out_.worst_excess && -off <= out_.worst_gouge) return;
  (off > 0 ? out_.worst_excess : out_.worst_gouge) = std::abs(off);
  (off > 0 ? out_.worst_excess_at : out_.worst_gouge_at) =
      fields_.middle(e.at) - e.f * e.stock_slope;
}

// Voxels in which a body with edges may reach into the part by more than is looked for.
void TileJudge::mark_sharp(const Cell& c, std::span<const stock::Candidate> from) {
  const double r = root3 * c.half, p = c.p.distance;
  if (p > r) return;
  const double deep = looked_for(in_.gouge_tolerance);
  const double bend = c.apart < 1e-9 ? 0 : in_.part.off_plane(c.p.on, beside * r, c.p.slope).above;
  std::vector<stock::Candidate> left;
  for (const stock::Candidate& m : from) {
    if (near_.box_distance(m.motion, c.middle) > r) continue;
    const Sheet s = sheet_of(m.motion, c.middle, c.half);
    if (s.value < -r) continue;  // does not come into the cell
    const auto within = [&](double value, const Vec3& slope, double rise) {
      return value - p + c.half * (slope - c.p.slope).lpNorm<1>() + rise + bend <= deep;
    };
    if (within(s.value, s.slope, s.rise)) continue;
    near_.faces_near(m.motion, c.middle, faces_);
    if (std::any_of(faces_.begin(), faces_.end(), [&](const stock::Nearness& n) {
          return within(-n.distance, -n.slope, rise_of(n.hollow, r));
        }))
      continue;
    left.push_back(m);
  }
  if (left.empty()) return;
  const int across = leaf_voxels >> c.depth;
  const Coord low = holding(c.middle - Vec3::Constant(c.half - 0.5 * h_));
  if (across == 1) return set_hard((low.x() & 7) * 64 + (low.y() & 7) * 8 + (low.z() & 7));
  for (int n = 0; n < 8; ++n) {
    Cell child = c;
    child.depth = c.depth + 1;
    child.half = 0.5 * c.half;
    child.middle =
        c.middle + child.half * Vec3((n & 1) ? 1 : -1, (n & 2) ? 1 : -1, (n & 4) ? 1 : -1);
    if (!asked_of(child)) continue;
    if (c.apart < 1e-9) {
      child.p.distance += c.p.slope.dot(child.middle - c.middle);
    } else {
      part_about(child);
    }
    mark_sharp(child, left);
  }
}

// Whether the cell holds a voxel of which the grid would be enough.
bool TileJudge::asked_of(const Cell& c) const {
  const int across = leaf_voxels >> c.depth;
  const Coord low = holding(c.middle - Vec3::Constant(c.half - 0.5 * h_)) & 7;
  return std::any_of(easy_.begin(), easy_.end(), [&](const EasyVoxel& e) {
    const Coord at = (e.at & 7) - low;
    return at.x() >= 0 && at.y() >= 0 && at.z() >= 0 && at.x() < across && at.y() < across &&
           at.z() < across && hard_[static_cast<std::size_t>(e.number)] == 0;
  });
}

// Down to the voxels that are to be looked into, with the motions that matter.
void TileJudge::hard_cells(const Cell& c, const Coord& low, int across) {
  bool any = false;
  for (int n = 0; n < across * across * across && !any; ++n) {
    const Coord at = low.offsetBy(n / across / across, n / across % across, n % across);
    any = hard_[openvdb::FloatTree::LeafNodeType::coordToOffset(at)] != 0;
  }
  if (!any) return;
  if (across == 1) {
    Cell voxel = c;
    const auto& asked = part_at_[openvdb::FloatTree::LeafNodeType::coordToOffset(low)];
    if (asked.face >= 0) {
      voxel.p = asked;
      voxel.p_at = c.middle;
    }
    return cell(voxel);
  }
  const auto depth = static_cast<std::size_t>(c.depth);
  near_.cull(depth == 0 ? near_.all() : std::span<const stock::Candidate>(lists_[depth - 1]),
             c.middle, 1.1 * root3 * c.half, lists_[depth]);
  for (int n = 0; n < 8; ++n) {
    Cell child = c;
    child.half = 0.5 * c.half;
    child.depth = c.depth + 1;
    child.middle =
        c.middle + child.half * Vec3((n & 1) ? 1 : -1, (n & 2) ? 1 : -1, (n & 4) ? 1 : -1);
    const int part = across / 2;
    hard_cells(child, low.offsetBy((n & 1) * part, (n >> 1 & 1) * part, (n >> 2) * part), part);
  }
}

}  // namespace proveout::measure
