#include "sim/measure/two_way_cell.h"

#include <algorithm>
#include <cmath>

#include "sim/measure/plane_share.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using stock::NearMotions;

// Surfaces that bend by less than this share of a cell count as plain in it.
constexpr double plain_bend = 0.03;
constexpr std::size_t most_sheets = 8;  // that meet in one voxel; beyond that the nearest ones
constexpr double deepest_held = stock::Stock::Fields::band_voxels - 0.5;

std::uint64_t key(const Coord& c) {
  const auto part = [](int v) { return static_cast<std::uint64_t>(v + (1 << 20)) & 0x1FFFFF; };
  return part(c.x()) << 42 | part(c.y()) << 21 | part(c.z());
}

// Of two half spaces in one cube, what both hold. alike: cosine between their slopes. Nearly alike:
// the smaller; opposed: what is left over; else as if they knew nothing of each other.
double both_of(double s, double p, double alike) {
  if (alike > 0.5) return std::min(s, p);
  if (alike < -0.5) return std::max(0.0, s + p - 1);
  return s * p;
}

}  // namespace

TileJudge::TileJudge(const TwoWayInput& input)
    : in_(input),
      fields_(input.kept.fields()),
      grid_(fields_),
      near_(input.exact),
      h_(fields_.voxel),
      provenance_(fields_.provenance->tree()) {}

bool TileJudge::sawn_off(const Vec3& at) const {
  return std::any_of(in_.sawn.begin(), in_.sawn.end(), [&](const Box3& b) {
    return (at.array() > b.min().array() - 1e-3).all() &&
           (at.array() < b.max().array() + 1e-3).all();
  });
}

int TileJudge::sawn_cell(const Cell& c) const {
  int most = 0;
  for (const Box3& b : in_.sawn) {
    const Vec3 low = c.middle.array() - c.half, high = c.middle.array() + c.half;
    if ((low.array() >= b.min().array()).all() && (high.array() <= b.max().array()).all()) return 1;
    if ((high.array() > b.min().array()).all() && (low.array() < b.max().array()).all()) most = 2;
  }
  return most;
}

TileDeviation TileJudge::judge(const Coord& origin) {
  out_ = {};
  missing_index_.clear();
  left_index_.clear();
  last_face_ = -1;  // nothing is carried over from the tile before, whichever that was
  bool any = false;
  int inside = 0;
  for (int n = 0; n < 64; ++n) {
    const Coord at = origin.offsetBy((n & 3) * 8, (n >> 2 & 3) * 8, (n >> 4) * 8);
    any = any || grid_.leaf(at) != nullptr;
    inside += grid_.inside(at);
  }
  const Vec3 low = fields_.corner(origin);
  const double size = tile_voxels * h_;
  loaded_ = any;
  if (any) {
    // With a margin of the band, so that f is what the grid holds.
    const Vec3 margin = Vec3::Constant((stock::Stock::Fields::band_voxels + 1) * h_);
    near_.load(Box3(low - margin, low + Vec3::Constant(size) + margin));
    sort_motions();
  } else if (inside == 0 || inside == 64) {
    const double p = in_.part.at(low + Vec3::Constant(0.5 * size));
    const bool far = std::abs(p) > 0.5 * root3 * size;
    if (far && (inside == 64) == (p < 0)) {
      if (p < 0) out_.shared_mm3 += size * size * size;
      return std::move(out_);
    }
  }
  for (int n = 0; n < 64; ++n)
    leaf(origin.offsetBy((n & 3) * 8, (n >> 2 & 3) * 8, (n >> 4) * 8), any);
  return std::move(out_);
}

void TileJudge::leaf(const Coord& origin, bool loaded) {
  Cell c;
  c.half = 0.5 * leaf_voxels * h_;
  c.middle = fields_.corner(origin) + Vec3::Constant(c.half);
  if (!loaded || grid_.leaf(origin) == nullptr)
    c.stock = grid_.inside(origin) ? Side::inside : Side::outside;
  leaf_gouge_ = leaf_excess_ = 0;
  if (c.stock == Side::cut)
    cut_leaf(c, origin);
  else
    cell(c);
}

// Tells on which sides the cell lies, where it lies on one.
void TileJudge::settle(Cell& c) {
  const double r = root3 * c.half;
  if (c.part == Side::cut) {
    if (c.p.face < 0 || c.p_at != c.middle) {  // else the voxel was asked of before
      const double reach =
          c.depth == 0 ? 1e30 : std::abs(c.p.distance) + (c.middle - c.p_at).norm() + 1e-6;
      c.p = in_.part.nearest(c.middle, reach, c.p.face);
      c.p_at = c.middle;
    }
    if (std::abs(c.p.distance) > r) c.part = c.p.distance < 0 ? Side::inside : Side::outside;
  }
  if (c.stock != Side::cut) return;
  auto& list = lists_[static_cast<std::size_t>(c.depth)];
  const auto from =
      c.depth == 0
          ? near_.all()
          : std::span<const stock::Candidate>(lists_[static_cast<std::size_t>(c.depth) - 1]);
  c.f = near_.cull(from, c.middle, 1.1 * r, list, &c.by);
  const int sawn = in_.sawn.empty() ? 0 : sawn_cell(c);
  const double there = grid_.at(holding(c.middle));
  if (sawn != 0 && c.part == Side::cut) {
    // The grid has the support gone up to the part's face, which may lie in this cell.
  } else if (c.depth == voxel_depth) {
    // A voxel's middle is the cell's: the grid holds f, as far as its band goes, but for what fell
    // off or was sawn off.
    if (there >= 0 && there > std::max(c.f, -deepest_held * h_) + 0.5 * h_) {
      c.stock = Side::outside;
      return;
    }
    const double clear = 0.1 * h_;
    if ((c.f > clear && there < -clear) || (c.f < -clear && there > clear))
      out_.contradicted_mm3 += h_ * h_ * h_;
  } else if (c.depth < voxel_depth && c.f < -r && there > 0) {
    c.stock = Side::outside;
    return;
  }
  if (std::abs(c.f) > r) c.stock = c.f < 0 ? Side::inside : Side::outside;
}

void TileJudge::cell(Cell c) {
  settle(c);
  if (c.stock != Side::cut && c.part != Side::cut) {
    const double s = c.stock == Side::inside ? 1 : 0, p = c.part == Side::inside ? 1 : 0;
    if (s != p && c.depth < voxel_depth && s == 1 && !in_.sawn.empty() && sawn_cell(c) == 2)
      return children(c);
    add_uniform(c, s, p, s * p);
    if (s != p && c.depth <= voxel_depth) record_block(c);
    return;
  }
  if (c.depth < voxel_depth)
    children(c);
  else if (c.depth == voxel_depth)
    voxel(c);
  else
    small(c);
}

void TileJudge::children(const Cell& c) {
  Cell child = c;
  child.half = 0.5 * c.half;
  child.turned = -1;
  ++child.depth;
  // Where the part is one plane in the ball about the cell, it is in those about its children, and
  // what lies within a child's ball of its middle is the plane's foot.
  const bool one_plane = one_plane_in(c) && c.p_at == c.middle;
  if (one_plane) child.turned = c.turned;
  for (int n = 0; n < 8; ++n) {
    const Vec3 way = child.half * Vec3((n & 1) ? 1 : -1, (n & 2) ? 1 : -1, (n & 4) ? 1 : -1);
    child.middle = c.middle + way;
    if (one_plane) {
      const double up = c.p.slope.dot(way);
      child.p.distance = c.p.distance + up;
      child.p.on = c.p.on + (way - up * c.p.slope);
      child.p_at = child.middle;
    }
    cell(child);
  }
}

void TileJudge::add_uniform(const Cell& c, double s, double p, double both) {
  const double volume = 8 * c.half * c.half * c.half;
  out_.shared_mm3 += both * volume;
  out_.gouge_mm3 += (p - both) * volume;
  const int sawn = s > both && !in_.sawn.empty() ? sawn_cell(c) : 0;
  if (sawn == 0 || (sawn == 2 && !sawn_off(c.middle))) out_.excess_mm3 += (s - both) * volume;
}

DeviationBin& TileJudge::bin(const Bins& to, const Vec3& at, BinSort sort) {
  const Coord v = holding(at);
  const Coord place(v.x() >> 2, v.y() >> 2, v.z() >> 2);
  const std::uint64_t number = key(place) * 4 + static_cast<std::uint64_t>(sort);
  const auto [found, added] = to.index.try_emplace(number, static_cast<int>(to.bins.size()));
  if (added) {
    to.bins.emplace_back();
    to.bins.back().place = place;
    to.bins.back().sort = sort;
  }
  return to.bins[static_cast<std::size_t>(found->second)];
}

// A cell of one voxel or more that is missing, or left on, throughout.
void TileJudge::record_block(const Cell& c) {
  const bool missing = c.part == Side::inside;
  if (!missing && !in_.sawn.empty() && sawn_off(c.middle)) return;
  const double away = std::abs(c.p.distance) + (c.middle - c.p_at).norm() + root3 * c.half;
  if (away <= (missing ? in_.gouge_tolerance : in_.excess_tolerance)) return;
  // By bins of four voxels, of which a leaf's cell holds eight.
  const double part = std::min(c.half, 2 * h_);
  const int across = static_cast<int>(std::lround(c.half / part));
  for (int n = 0; n < across * across * across; ++n) {
    const Eigen::Vector3i step(n % across, n / across % across, n / across / across);
    const Vec3 at = c.middle + part * (2 * step.array() + (1 - across)).matrix().cast<double>();
    (missing ? bin({out_.missing, missing_index_}, at, BinSort::cut)
             : bin({out_.left, left_index_}, at, BinSort::inside))
        .volume_mm3 += 8 * part * part * part;
  }
}

TileJudge::Sheet TileJudge::sheet_of(std::uint32_t motion, const Vec3& at, double half) const {
  const stock::Nearness n = near_.near(motion, at);
  const double r = root3 * half;
  Sheet s;
  s.motion = motion;
  s.value = -n.distance;
  s.slope = -n.slope;
  s.curvature = n.curvature;
  s.bend = n.gap < 2 * r ? 2 * r : std::min(2 * r, 0.5 * n.curvature * r * r);
  s.rise = rise_of(n.hollow, r);
  return s;
}

void TileJudge::blank_sheets(const Cell& c, std::vector<Sheet>& to) const {
  const stock::BlankShape& blank = in_.exact.blank();
  const double r = root3 * c.half;
  if (blank.mesh != nullptr) {
    const auto n = blank.mesh->nearest(c.middle);
    if (n.distance < c.f - 2.2 * r) return;
    Sheet s;
    s.blank_face = 6;
    s.value = n.distance;
    s.slope = n.slope;
    s.bend =
        n.within_face && blank.mesh->plain_within(c.middle, r, n.slope, plain_bend) ? 0 : 2 * r;
    s.rise = s.bend;
    to.push_back(s);
    return;
  }
  for (int face = 0; face < 6; ++face) {
    Sheet s;
    s.blank_face = face;
    s.value = value_of(s, c.middle, s.slope);
    if (s.value >= c.f - 2.2 * r) to.push_back(s);
  }
}

// Of one sheet alone: mm, and its slope.
double TileJudge::value_of(const Sheet& sheet, const Vec3& at, Vec3& slope) const {
  if (sheet.motion != NearMotions::none) {
    const stock::Nearness n = near_.near(sheet.motion, at);
    slope = -n.slope;
    return -n.distance;
  }
  const stock::BlankShape& blank = in_.exact.blank();
  if (sheet.blank_face == 6) {
    const auto n = blank.mesh->nearest(at);
    slope = n.slope;
    return n.distance;
  }
  const int k = sheet.blank_face >> 1;
  const bool high = (sheet.blank_face & 1) != 0;
  slope = Vec3::Unit(k) * (high ? 1 : -1);
  return high ? at[k] - blank.box.max()[k] : blank.box.min()[k] - at[k];
}

// The sheets that can be the surface somewhere in the cell, the highest first; true: it is one,
// or several that differ by less than counts. A swept body's distance does not fall short of its
// plane by more than its bend, and convex ones never: so a sheet that stays below the highest at
// all corners by their planes and bends stays below throughout.
bool TileJudge::look_at_sheets(const Cell& c) {
  sheets_.clear();
  blank_sheets(c, sheets_);
  for (const stock::Candidate& m : lists_[static_cast<std::size_t>(c.depth)])
    sheets_.push_back(sheet_of(m.motion, c.middle, c.half));
  if (sheets_.empty()) return true;
  const auto top =
      std::max_element(sheets_.begin(), sheets_.end(),
                       [](const Sheet& a, const Sheet& b) { return a.value < b.value; });
  std::iter_swap(sheets_.begin(), top);
  const Sheet first = sheets_.front();
  double apart = 0;
  const auto beyond = [&](const Sheet& s) {
    return s.value - first.value + 1.1 * c.half * (s.slope - first.slope).lpNorm<1>();
  };
  std::erase_if(sheets_, [&](const Sheet& s) {
    if (&s == &sheets_.front()) return false;
    return beyond(s) + first.bend + std::min(s.bend, 0.2 * c.half) < 0;
  });
  if (sheets_.size() > most_sheets) {
    std::stable_sort(sheets_.begin() + 1, sheets_.end(),
                     [&](const Sheet& a, const Sheet& b) { return beyond(a) > beyond(b); });
    sheets_.resize(most_sheets);
  }
  for (const Sheet& s : sheets_) apart = std::max(apart, &s == &sheets_.front() ? 0 : beyond(s));
  return std::max(apart, first.bend) <= plain_bend * 2 * c.half;
}

bool TileJudge::turns_within(Cell& c, double most) const {
  if (c.turned < 0)
    c.turned = in_.part.normals_apart(c.middle, root3 * c.half, c.p.slope, most_turned);
  return c.turned <= most;
}

// Whether the part's face in the cell, if there is one, is one plane but for what counts.
bool TileJudge::part_plain(Cell& c) const {
  return c.part != Side::cut || (c.p.within_face && turns_within(c, plain_bend));
}

void TileJudge::voxel(Cell& c) {
  now_ = {};
  const double gouge = out_.gouge_mm3, excess = out_.excess_mm3;
  bool stock_plain = true;
  if (c.stock == Side::cut) {
    stock_plain = look_at_sheets(c);
    features(c);
  } else if (c.part == Side::cut && c.stock == Side::outside) {
    const Vec3 on = c.p.on;
    now_.gouge = std::max<double>(grid_.at(holding(c.middle)) - root3 * c.half, 0);
    now_.gouge_at = on;
    if (loaded_ && now_.gouge > in_.gouge_tolerance) {
      // On ramps the grid's distances are not the motions' own; where something fell off, they are
      // all there is.
      const double own = near_.value(near_.all(), on);
      if (own > -0.1 * h_) now_.gouge = std::min(now_.gouge, std::max(own, 0.0));
    }
    if (((on - c.middle).cwiseAbs().array() <= c.half).all()) out_.bare.push_back(on.cast<float>());
  }
  const bool plain = part_plain(c);
  const bool sawn_partly = !in_.sawn.empty() && sawn_cell(c) == 2;
  if (stock_plain && plain && !sawn_partly)
    add_surface(c, true);
  else if (const int axis = sawn_partly ? -1 : even_axis(c); axis >= 0)
    add_columns(c, axis);
  else if (!sawn_partly && (grid_tells(c) || (plain && one_face_along_part(c))))
    add_middle(c);
  else if (!plain && !sawn_partly && agrees(c))
    add_agreeing(c);
  else
    children(c);
  record(c, out_.gouge_mm3 - gouge, out_.excess_mm3 - excess);
}

void TileJudge::small(Cell& c) {
  const bool stock_plain = c.stock != Side::cut || look_at_sheets(c);
  const bool plain = part_plain(c);
  // A groove in the part's plain face may be narrower than a quarter of a voxel.
  const bool groove = !stock_plain && c.part == Side::cut && plain && sheets_.size() > 1;
  const int finest = groove ? finest_depth : plain_depth;
  if (c.depth >= finest || (stock_plain && plain))
    add_surface(c, stock_plain && plain);
  else if (plain && middle_tells(c))
    add_middle(c);
  else
    children(c);
}

// Share of the cell that is stock: by the slopes over the whole cell, and the mean of f, which is
// its middle value and a sixth of the sum of second differences. mean and slope: what was used.
double TileJudge::stock_share(const Cell& c, double& mean, Vec3& slope) {
  mean = c.f;
  const Sheet& first = sheets_.front();
  slope = first.slope;
  if (sheets_.size() == 1 && first.curvature * c.half < 1e-6 && first.bend <= plain_bend * c.half)
    return plane_share(mean, slope, 2 * c.half);
  const auto value = [&](const Vec3& at) {
    double f = -1e30;
    Vec3 unused;
    for (const Sheet& s : sheets_) {
      f = std::max(f, s.motion == NearMotions::none ? value_of(s, at, unused)
                                                    : -near_.distance(s.motion, at));
    }
    return f;
  };
  double second = 0;
  for (int k = 0; k < 3; ++k) {
    const Vec3 e = c.half * Vec3::Unit(k);
    const double up = value(c.middle + e), down = value(c.middle - e);
    slope[k] = (up - down) / (2 * c.half);
    second += up + down - 2 * c.f;
  }
  mean = c.f + second / 6;
  return plane_share(mean, slope, 2 * c.half);
}

double TileJudge::part_share(Cell& c) {
  if (part_plain(c)) return plane_share(c.p.distance, c.p.slope, 2 * c.half);
  double second = 0;
  Vec3 slope;
  const double reach = std::abs(c.p.distance) + c.half + 1e-6;
  for (int k = 0; k < 3; ++k) {
    const Vec3 e = c.half * Vec3::Unit(k);
    const double up = in_.part.at(c.middle + e, reach), down = in_.part.at(c.middle - e, reach);
    slope[k] = (up - down) / (2 * c.half);
    second += up + down - 2 * c.p.distance;
  }
  return plane_share(c.p.distance + second / 6, slope, 2 * c.half);
}

void TileJudge::add_surface(Cell& c, bool plain) {
  double mean = 0;
  Vec3 slope = Vec3::Zero();
  const double s = c.stock == Side::cut ? stock_share(c, mean, slope) : c.stock == Side::inside;
  const double p = c.part == Side::cut ? part_share(c) : c.part == Side::inside;
  if (c.stock != Side::cut || c.part != Side::cut) return add_uniform(c, s, p, s * p);
  const double alike = slope.dot(c.p.slope) / std::max(slope.norm(), 1e-9);
  double both = both_of(s, p, alike);
  if (plain && alike > 0.5) {
    // Where the two planes cross within the cell, a wedge of each sticks out on its side: with
    // their distance g across the cell even between g0 - w and g0 + w, (w - |g0|)^2 / 4 w of each.
    const double size = 2 * c.half;
    const Vec3 to_surface = -mean * slope / slope.squaredNorm();
    const double g0 = c.p.distance + c.p.slope.dot(to_surface);
    const Vec3 tilt = c.p.slope - alike * slope.normalized();
    const double w = c.half * tilt.lpNorm<1>();
    if (std::abs(g0) < w && w > 1e-9) {
      const double step = 0.05 * size;
      const double area =
          (plane_share(mean - step, slope, size) - plane_share(mean + step, slope, size)) * size *
          size * size / (2 * step);
      const double wedge = area * (w - std::abs(g0)) * (w - std::abs(g0)) / (4 * w);
      both = std::max(0.0, both - wedge / (size * size * size));
    }
  }
  add_uniform(c, s, p, both);
}

// To the bin what is beyond tolerance of a voxel.
void TileJudge::keep(const Cell& c, double depth, const Vec3& at, std::uint32_t by, double volume,
                     bool surface, bool missing) {
  if (!(depth > (missing ? in_.gouge_tolerance : in_.excess_tolerance))) {
    if (volume > 1e-6 * h_ * h_ * h_) {
      (missing ? bin({out_.missing, missing_index_}, c.middle, BinSort::beside)
               : bin({out_.left, left_index_}, c.middle, BinSort::beside))
          .volume_mm3 += volume;
    }
    return;
  }
  const bool uncut = by == NearMotions::none;
  DeviationBin& b =
      missing ? bin({out_.missing, missing_index_}, c.middle, BinSort::cut)
              : bin({out_.left, left_index_}, c.middle, uncut ? BinSort::uncut : BinSort::cut);
  b.volume_mm3 += volume;
  if (surface) b.area_mm2 += h_ * h_;
  if (depth <= b.depth + on_surface) return;
  b.depth = depth;
  b.at = at;
  b.by = uncut ? stock::from_blank : near_.id(by);
  b.passed = false;
  if (!uncut || missing || c.stock != Side::cut) return;
  // The blank's own face: the motion that passed nearest, if any did.
  double least = 3 * h_;
  for (const stock::Candidate& m : lists_[static_cast<std::size_t>(voxel_depth)]) {
    const double away = near_.distance(m.motion, at);
    if (away >= least) continue;
    least = away;
    b.by = near_.id(m.motion);
    b.passed = true;
  }
}

// What a voxel has beyond tolerance goes to its bin; its worst to the tile.
void TileJudge::record(const Cell& c, double gouge, double excess) {
  // Where part's face and stock's both pass, the part's face may lie bare above the stock.
  if (c.stock == Side::cut && c.part == Side::cut &&
      ((c.p.on - c.middle).cwiseAbs().array() <= c.half).all()) {
    std::uint32_t by = NearMotions::none;
    const double bare = near_.value_beside(lists_[static_cast<std::size_t>(voxel_depth)],
                                           (c.p.on - c.middle).norm(), c.p.on, &by);
    if (bare > now_.gouge) {
      now_.gouge = bare;
      now_.gouge_at = c.p.on;
      now_.gouge_by = by;
    }
  }
  const bool face = c.part == Side::cut && counts_once(c.p.distance);
  const bool surface = c.stock == Side::cut && counts_once(c.f);
  keep(c, now_.gouge, now_.gouge_at, now_.gouge_by, gouge, face, true);
  keep(c, now_.excess, now_.excess_at, now_.excess_by, excess, surface, false);
  if (c.stock != Side::cut) return;
  leaf_gouge_ = std::max(leaf_gouge_, now_.gouge);
  leaf_excess_ = std::max(leaf_excess_, now_.excess);
  if (now_.gouge > out_.worst_gouge) {
    out_.worst_gouge = now_.gouge;
    out_.worst_gouge_at = now_.gouge_at;
  }
  if (now_.excess > out_.worst_excess) {
    out_.worst_excess = now_.excess;
    out_.worst_excess_at = now_.excess_at;
  }
}

}  // namespace proveout::measure
