#include "sim/measure/exact_extent.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "sim/stock/distance_reader.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using stock::NearMotions;

constexpr double root3 = 1.7320508075688772;
constexpr int leaf_voxels = 8, tile_voxels = 32;
constexpr int voxel_depth = 3;            // a leaf is of depth 0
constexpr int deepest = voxel_depth + 9;  // a five-hundredth of a voxel
constexpr double enough = 0.005;          // voxels, choice: a face is told to that
constexpr long most_cells = 1000000;      // choice: a few seconds
constexpr double on_surface = 1e-7;       // mm

// Material lies where normal . (x - middle) <= room + bend.
struct Side {
  Vec3 normal = Vec3::Zero();
  double room = 0, bend = 0;  // mm
  std::uint32_t motion = NearMotions::none;
  double alone = 0;  // mm: how far material may reach by this side and the cell alone
};

// Material only where normal . x <= offset; stock coordinates.
struct HalfSpace {
  Vec3 normal = Vec3::Zero();
  double offset = 0;
};

class Farthest {
 public:
  Farthest(const stock::Stock& kept, const stock::ExactStock& exact)
      : fields_(kept.fields()),
        grid_(fields_),
        exact_(exact),
        near_(exact),
        h_(fields_.voxel),
        lists_(deepest + 1) {}

  struct Found {
    bool any = false;
    double reach = -1e30;    // mm along the direction
    double at_most = -1e30;  // mm: none reaches further
    double beyond = 0;       // mm: ExactExtent::beyond
  };
  Found along(const Vec3& direction, std::span<const HalfSpace> within);

 private:
  struct Leaf {
    Coord origin, tile;
    double most = 0;  // mm along the direction
  };
  struct Cell {
    Vec3 middle = Vec3::Zero();
    double half = 0;  // mm
    int depth = 0;
  };
  std::vector<Leaf> leaves() const;
  double most_of(const Cell& c) const {
    return direction_.dot(c.middle) + c.half * direction_.lpNorm<1>();
  }
  void visit(const Cell& c);
  bool still_there(const Cell& c, double f) const;
  void sides_of(const Cell& c);
  void blank_sides(const Cell& c);
  double bound(const Cell& c, std::span<const Side> sides);
  void try_sides(const Cell& c, std::span<const Side> sides, const Vec3& rest, double& most,
                 std::span<const double> weights);
  void try_place(const Cell& c);
  void offer(const Cell& c, const Vec3& at);
  double beyond() const;

  const stock::Stock::Fields& fields_;
  stock::DistanceReader grid_;
  const stock::ExactStock& exact_;
  NearMotions near_;
  double h_;
  std::vector<std::vector<stock::Candidate>> lists_;  // by depth
  Vec3 direction_ = Vec3::UnitX();
  std::span<const HalfSpace> within_;
  Found found_;
  long cells_ = 0;
  std::vector<Side> sides_;
  // The sides that gave the lowest bound, and which ends of the cell the rest lies at.
  std::array<Side, 3> best_{};
  std::size_t best_count_ = 0;
  Vec3 best_rest_ = Vec3::Zero();
};

// Those with surface in them, the furthest first.
std::vector<Farthest::Leaf> Farthest::leaves() const {
  std::vector<Leaf> out;
  for (auto it = fields_.steps->tree().cbeginLeaf(); it; ++it) {
    Leaf l;
    l.origin = it->origin();
    for (int k = 0; k < 3; ++k)
      l.tile[k] = (l.origin[k] >= 0 ? l.origin[k] : l.origin[k] - tile_voxels + 1) / tile_voxels;
    Cell c;
    c.half = 0.5 * leaf_voxels * h_;
    c.middle = fields_.corner(l.origin) + Vec3::Constant(c.half);
    l.most = most_of(c);
    out.push_back(l);
  }
  std::sort(out.begin(), out.end(), [](const Leaf& a, const Leaf& b) {
    return a.most != b.most ? a.most > b.most : a.origin < b.origin;
  });
  return out;
}

Farthest::Found Farthest::along(const Vec3& direction, std::span<const HalfSpace> within) {
  direction_ = direction;
  within_ = within;
  found_ = {};
  cells_ = 0;
  std::vector<Leaf> order = leaves();
  // Motions are loaded a tile at a time: what of a tile may matter is looked at together.
  std::vector<bool> done(order.size(), false);
  for (std::size_t i = 0; i < order.size(); ++i) {
    if (done[i] || order[i].most <= found_.reach + enough * h_) continue;
    const Coord tile = order[i].tile;
    const Vec3 low = fields_.corner(
        Coord(tile.x() * tile_voxels, tile.y() * tile_voxels, tile.z() * tile_voxels));
    // With a margin of the band, so that f is what the grid holds.
    const Vec3 margin = Vec3::Constant((stock::Stock::Fields::band_voxels + 1) * h_);
    near_.load(Box3(low - margin, low + Vec3::Constant(tile_voxels * h_) + margin));
    for (std::size_t k = i; k < order.size(); ++k) {
      if (done[k] || order[k].tile != tile) continue;
      if (order[k].most <= found_.reach + enough * h_) break;
      done[k] = true;
      Cell c;
      c.half = 0.5 * leaf_voxels * h_;
      c.middle = fields_.corner(order[k].origin) + Vec3::Constant(c.half);
      visit(c);
    }
  }
  found_.any = found_.reach > -1e29;
  found_.at_most = std::max(found_.at_most, found_.reach);
  if (found_.any) found_.beyond = beyond();
  return found_;
}

// Of a voxel: whether the grid has material or its surface about it. What fell off is in the
// motions' stock and no longer in the grid.
bool Farthest::still_there(const Cell& c, double f) const {
  const double there = grid_.at(fields_.holding(c.middle));
  if (std::abs(there) > h_) return false;
  return !(there >= 0 && there > f + 0.5 * h_);
}

void Farthest::visit(const Cell& c) {
  const double r = root3 * c.half;
  if (most_of(c) <= found_.reach + enough * h_) return;
  for (const HalfSpace& w : within_) {
    if (w.normal.dot(c.middle) - c.half * w.normal.lpNorm<1>() > w.offset) return;
  }
  if (++cells_ > most_cells) {
    found_.at_most = std::max(found_.at_most, most_of(c));
    return;
  }
  const auto depth = static_cast<std::size_t>(c.depth);
  const double f =
      near_.cull(depth == 0 ? near_.all() : std::span<const stock::Candidate>(lists_[depth - 1]),
                 c.middle, 1.1 * r, lists_[depth]);
  if (f > r || (c.depth == voxel_depth && !still_there(c, f))) return;
  sides_of(c);
  // Material that only touches the cell from outside is the next one's.
  const double hair = 1e-6 * c.half;
  if (std::any_of(sides_.begin(), sides_.end(), [&](const Side& s) {
        return s.room + s.bend <= hair - c.half * s.normal.lpNorm<1>();
      }))
    return;
  const double most = bound(c, sides_);
  if (most <= found_.reach + on_surface) return;
  if (c.depth >= voxel_depth) {
    if (f <= 0) offer(c, c.middle);
    try_place(c);
  }
  if (most <= found_.reach + enough * h_) return;
  if (c.depth == deepest) {
    found_.at_most = std::max(found_.at_most, most);
    return;
  }
  // The children that reach furthest first.
  std::array<std::pair<double, int>, 8> order;
  const auto corner = [&](int n) {
    return Vec3((n & 1) ? 1 : -1, (n & 2) ? 1 : -1, (n & 4) ? 1 : -1);
  };
  for (int n = 0; n < 8; ++n) order[static_cast<std::size_t>(n)] = {-direction_.dot(corner(n)), n};
  std::sort(order.begin(), order.end());
  for (const auto& [unused, n] : order) {
    Cell child;
    child.half = 0.5 * c.half;
    child.depth = c.depth + 1;
    child.middle = c.middle + child.half * corner(n);
    visit(child);
  }
}

// The blank's faces that are planes about the cell.
void Farthest::blank_sides(const Cell& c) {
  const stock::BlankShape& blank = exact_.blank();
  if (blank.mesh == nullptr) {
    for (int k = 0; k < 3; ++k) {
      Side low, high;
      low.normal = -Vec3::Unit(k);
      low.room = c.middle[k] - blank.box.min()[k];
      high.normal = Vec3::Unit(k);
      high.room = blank.box.max()[k] - c.middle[k];
      sides_.push_back(low);
      sides_.push_back(high);
    }
    return;
  }
  const auto n = blank.mesh->nearest(c.middle);
  const double reach = std::abs(n.distance) + 2 * root3 * c.half;
  if (blank.mesh->normals_apart(c.middle, reach, n.slope, 1e-9) >= 1e-9) return;
  Side s;
  s.normal = n.slope;
  s.room = -n.distance;
  sides_.push_back(s);
}

void Farthest::sides_of(const Cell& c) {
  const double r = root3 * c.half;
  sides_.clear();
  blank_sides(c);
  for (const stock::Candidate& m : lists_[static_cast<std::size_t>(c.depth)]) {
    const stock::Nearness n = near_.near(m.motion, c.middle);
    if (n.gap < 2 * r) continue;  // more than one face of it
    Side s;
    s.normal = -n.slope;
    s.room = n.distance;
    s.bend = 0.5 * n.curvature * r * r;
    s.motion = m.motion;
    sides_.push_back(s);
  }
  for (const HalfSpace& w : within_) {
    Side s;
    s.normal = w.normal;
    s.room = w.offset - w.normal.dot(c.middle);
    sides_.push_back(s);
  }
}

// Weights of the sides, and what they leave of the direction, to the bound; mm above the middle.
void Farthest::try_sides(const Cell& c, std::span<const Side> sides, const Vec3& rest, double& most,
                         std::span<const double> weights) {
  double reach = c.half * rest.lpNorm<1>();
  for (std::size_t k = 0; k < sides.size(); ++k) {
    if (!(weights[k] >= 0)) return;
    reach += weights[k] * (sides[k].room + sides[k].bend);
  }
  if (!(reach < most)) return;
  most = reach;
  std::copy(sides.begin(), sides.end(), best_.begin());
  best_count_ = sides.size();
  best_rest_ = rest;
}

// How far (mm along the direction) material may reach in the cell: one, two or three sides at a
// time, with weights that leave nothing of the direction along as many axes.
double Farthest::bound(const Cell& c, std::span<const Side> sides) {
  const Vec3& u = direction_;
  double most = c.half * u.lpNorm<1>();
  best_count_ = 0;
  best_rest_ = u;
  std::vector<Side> few;
  for (const Side& given : sides) {
    Side s = given;
    double alone = c.half * u.lpNorm<1>();
    for (int k = 0; k < 3; ++k) {
      const double weight = u[k] / s.normal[k];
      if (!(weight > 0) || !std::isfinite(weight)) continue;
      const Vec3 rest = u - weight * s.normal;
      alone = std::min(alone, weight * (s.room + s.bend) + c.half * rest.lpNorm<1>());
      try_sides(c, {&s, 1}, rest, most, {&weight, 1});
    }
    s.alone = alone;
    few.push_back(s);
  }
  constexpr std::size_t most_sides = 8;  // choice: that meet in one place
  if (few.size() > most_sides) {
    std::stable_sort(few.begin(), few.end(),
                     [](const Side& a, const Side& b) { return a.alone < b.alone; });
    few.resize(most_sides);
  }
  for (std::size_t a = 0; a < few.size(); ++a) {
    for (std::size_t b = a + 1; b < few.size(); ++b) {
      const Vec3 &p = few[a].normal, &q = few[b].normal;
      for (int k = 0; k < 3; ++k) {
        const int i = (k + 1) % 3, j = (k + 2) % 3;
        const double det = p[i] * q[j] - p[j] * q[i];
        if (std::abs(det) < 1e-9) continue;
        const std::array<double, 2> weights = {(u[i] * q[j] - u[j] * q[i]) / det,
                                               (p[i] * u[j] - p[j] * u[i]) / det};
        const std::array<Side, 2> two = {few[a], few[b]};
        try_sides(c, two, u - weights[0] * p - weights[1] * q, most, weights);
      }
      for (std::size_t d = b + 1; d < few.size(); ++d) {
        Eigen::Matrix3d all;
        all << p, q, few[d].normal;
        if (std::abs(all.determinant()) < 1e-9) continue;
        const Vec3 weights = all.inverse() * u;
        const std::array<Side, 3> three = {few[a], few[b], few[d]};
        try_sides(c, three, u - all * weights, most, {weights.data(), 3});
      }
    }
  }
  return u.dot(c.middle) + most;
}

// To where the sides of the lowest bound meet, at the cell's end along what they leave free:
// Newton's method, as they may bend.
void Farthest::try_place(const Cell& c) {
  if (best_count_ == 0) return;
  // Where fewer than three sides meet the rest is held along axes: those that with the sides'
  // slopes give the best conditioned system.
  Eigen::Matrix3d rows;
  for (std::size_t k = 0; k < best_count_; ++k)
    rows.row(static_cast<int>(k)) = best_[k].normal.transpose();
  std::array<int, 3> axes = {0, 1, 2};
  double best_det = 0;
  for (const std::array<int, 3>& tried :
       {std::array{0, 1, 2}, std::array{1, 2, 0}, std::array{0, 2, 1}}) {
    for (std::size_t k = best_count_; k < 3; ++k)
      rows.row(static_cast<int>(k)) = Vec3::Unit(tried[k - best_count_]).transpose();
    const double det = std::abs(rows.determinant());
    if (det <= best_det) continue;
    best_det = det;
    axes = tried;
  }
  if (best_det < 1e-9) return;
  Vec3 at = c.middle;
  for (int round = 0; round < 4; ++round) {
    Vec3 to;
    for (std::size_t k = 0; k < 3; ++k) {
      const auto row = static_cast<int>(k);
      if (k >= best_count_) {
        const int axis = axes[k - best_count_];
        rows.row(row) = Vec3::Unit(axis).transpose();
        const double end = std::abs(best_rest_[axis]) < 1e-9 ? 0
                           : best_rest_[axis] > 0            ? c.half
                                                             : -c.half;
        to[row] = c.middle[axis] + end - at[axis];
        continue;
      }
      const Side& s = best_[k];
      Vec3 normal = s.normal;
      double room = s.room - s.normal.dot(at - c.middle);
      if (s.motion != NearMotions::none) {
        const stock::Nearness n = near_.near(s.motion, at);
        normal = -n.slope;
        room = n.distance;
      }
      rows.row(row) = normal.transpose();
      to[row] = room;
    }
    if (std::abs(rows.determinant()) < 1e-9) return;
    at += rows.inverse() * to;
    if (!((at - c.middle).cwiseAbs().array() <= 2 * c.half).all()) return;
  }
  offer(c, at);
}

// A place of the cell that may be material.
void Farthest::offer(const Cell& c, const Vec3& at) {
  const double reach = direction_.dot(at);
  if (!(reach > found_.reach)) return;
  if (!((at - c.middle).cwiseAbs().array() <= (1 + 1e-6) * c.half).all()) return;
  for (const HalfSpace& w : within_) {
    if (w.normal.dot(at) > w.offset + on_surface) return;
  }
  if (near_.value(lists_[static_cast<std::size_t>(c.depth)], at) > on_surface) return;
  found_.reach = reach;
}

// The grid, asked by itself: a voxel whose middle lies in material must not lie beyond.
double Farthest::beyond() const {
  double most = 0;
  const double hair = h_ / stock::Stock::Fields::steps_a_voxel;
  for (auto it = fields_.steps->tree().cbeginLeaf(); it; ++it) {
    for (openvdb::Index i = 0; i < 512; ++i) {
      if (!(grid_.mm(it->buffer().data()[i]) < -hair)) continue;
      const Vec3 middle = fields_.middle(it->offsetToGlobalCoord(i));
      const double over = direction_.dot(middle) - found_.reach;
      if (over <= most) continue;
      if (std::all_of(within_.begin(), within_.end(),
                      [&](const HalfSpace& w) { return w.normal.dot(middle) <= w.offset; }))
        most = over;
    }
  }
  return most;
}

}  // namespace

ExactExtent exact_extent(const stock::Stock& kept, const stock::ExactStock& exact,
                         const Eigen::Matrix3d& machine_from_stock,
                         const std::optional<std::pair<double, double>>& band) {
  Farthest search(kept, exact);
  ExactExtent out;
  const auto ends = [&](int axis, std::span<const HalfSpace> within, Box3& box) {
    const Vec3 direction = machine_from_stock.row(axis).transpose();
    for (const double sign : {-1.0, 1.0}) {
      const Farthest::Found f = search.along(sign * direction, within);
      if (!f.any) return false;
      (sign > 0 ? box.max() : box.min())[axis] = sign * f.reach;
      out.open = std::max(out.open, f.at_most - f.reach);
      out.beyond = std::max(out.beyond, f.beyond);
    }
    return true;
  };
  Box3 box(Vec3::Zero(), Vec3::Zero());
  if (!ends(2, {}, box)) return {};
  if (band) {
    const Vec3 up = machine_from_stock.row(2).transpose();
    const double low = box.min().z();
    const std::array<HalfSpace, 2> within = {HalfSpace{up, low + band->second},
                                             HalfSpace{-up, -(low + band->first)}};
    if (ends(0, within, box) && ends(1, within, box)) {
      out.box = box;
      return out;
    }
  }
  if (!ends(0, {}, box) || !ends(1, {}, box)) return {};
  out.box = box;
  return out;
}

}  // namespace proveout::measure
