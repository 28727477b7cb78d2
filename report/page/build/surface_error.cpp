#include "report/page/build/surface_error.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include "report/page/build/exact_places.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/distance_reader.h"

namespace proveout::page {
namespace {

mesh::Mesh mesh_of(const Surface& surface) {
  mesh::Mesh mesh;
  for (std::size_t v = 0; v + 2 < surface.vertices.size(); v += 3)
    mesh.vertices.emplace_back(surface.vertices[v], surface.vertices[v + 1],
                               surface.vertices[v + 2]);
  for (std::size_t t = 0; t + 2 < surface.triangles.size(); t += 3)
    mesh.triangles.push_back(
        {surface.triangles[t], surface.triangles[t + 1], surface.triangles[t + 2]});
  return mesh;
}

// Of one leaf, or of one run of triangles: kept apart so that sums do not depend on threads.
struct Share {
  double furthest = 0, sum = 0;
  Vec3 at = Vec3::Zero();
  std::size_t points = 0;
  std::vector<Vec3> beyond;  // places on triangles from which the field's slope leads nowhere
  std::vector<Vec3> off;     // places further off than off_by
  double off_by = std::numeric_limits<double>::infinity();
  // Beside edges, for the motions to tell: places of the level set, and on triangles.
  std::vector<Vec3> edge_crossings, edge_samples;
  std::vector<std::size_t> edge_triangles;  // of edge_samples
  void add(double away, const Vec3& place) {
    if (away > off_by) off.push_back(place);
    if (away <= furthest) return;
    furthest = away;
    at = place;
  }
};

// Calls each(place) for every crossing of the zero surface with a line from a voxel of the leaf to
// the next one.
template <class Each>
void for_crossings(const stock::DistanceLeaf& leaf, const stock::DistanceReader& distance,
                   const stock::Stock::Fields& fields, Each each) {
  for (auto it = leaf.cbeginValueOn(); it; ++it) {
    const openvdb::Coord here = it.getCoord();
    const double a = distance.mm(*it);
    for (int axis = 0; axis < 3; ++axis) {
      openvdb::Coord next = here;
      ++next[axis];
      const double b = distance.at(next);
      if ((a < 0) == (b < 0)) continue;
      each(fields.middle(here) + a / (a - b) * fields.voxel * Vec3::Unit(axis));
    }
  }
}

// Where a sheet of material (a groove in it) thinner than a voxel stands between two voxels of air
// (of material): towards it the distance falls at a steady slope, and from both sides it is used up
// before they meet. Within a swept body the depth is a concave function, so a line drawn on from
// two values never says zero too soon. Slopes of half and more: of its three axes a plane's normal
// is along one by 1/sqrt(3) at least.
template <class Each>
void for_lost_sheets(const stock::DistanceLeaf& leaf, const stock::DistanceReader& distance,
                     const stock::Stock::Fields& fields, Each each) {
  constexpr double least_slope = 0.5;
  const double voxel = fields.voxel;
  for (auto it = leaf.cbeginValueOn(); it; ++it) {
    const openvdb::Coord here = it.getCoord();
    const double a = distance.mm(*it), from_a = std::abs(a);
    if (from_a >= voxel / least_slope) continue;
    for (int axis = 0; axis < 3; ++axis) {
      openvdb::Coord next = here, before = here;
      ++next[axis];
      --before[axis];
      const double b = distance.at(next), from_b = std::abs(b);
      if ((a < 0) != (b < 0) || from_a + from_b >= voxel) continue;
      openvdb::Coord after = next;
      ++after[axis];
      const double sign = a < 0 ? -1 : 1;
      const double slope_a = (sign * distance.at(before) - from_a) / voxel;
      const double slope_b = (sign * distance.at(after) - from_b) / voxel;
      if (slope_a < least_slope || slope_b < least_slope) continue;
      if (from_a / slope_a + from_b / slope_b >= voxel) continue;
      each(fields.middle(here) + from_a / slope_a * Vec3::Unit(axis));
    }
  }
}

bool beside_edge(const stock::FieldSampler& field, const Vec3& at) {
  return slope_of(field, at).norm() < steep;
}

void from_leaf(const stock::DistanceLeaf& leaf, const stock::DistanceReader& distance,
               const stock::Stock::Fields& fields, const solid::PartDistance& mesh, bool exactly,
               Share& share) {
  const stock::FieldSampler field(fields);
  for_crossings(leaf, distance, fields, [&](const Vec3& p) {
    if (exactly && beside_edge(field, p)) return share.edge_crossings.push_back(p);
    const double away = std::abs(mesh.at_mostly_near(p, fields.voxel));
    share.add(away, p);
    share.sum += away;
    ++share.points;
  });
  for_lost_sheets(leaf, distance, fields, [&](const Vec3& p) {
    share.add(std::abs(mesh.at_mostly_near(p, fields.voxel)), p);
  });
}

// The way down the field's slope onto its zero; negative where it does not arrive.
double way_to_zero(const stock::FieldSampler& distance, const Vec3& from) {
  const double voxel = distance.voxel();
  Vec3 p = from;
  for (int round = 0; round < 8; ++round) {
    const double value = distance(p);
    if (std::abs(value) < 1e-3 * voxel) return (p - from).norm();
    Vec3 slope;
    for (int a = 0; a < 3; ++a) {
      const Vec3 h = 0.25 * voxel * Vec3::Unit(a);
      slope[a] = (distance(p + h) - distance(p - h)) / (0.5 * voxel);
    }
    const double steep = slope.squaredNorm();
    if (steep < 0.05) break;
    p -= value / steep * slope;
  }
  return -1;
}

void from_triangle(const mesh::Mesh& mesh, std::size_t t, const stock::FieldSampler& distance,
                   const stock::Stock::Fields& fields, bool exactly, Share& share) {
  const auto& triangle = mesh.triangles[t];
  // a is opposite to the shortest side: rows across the triangle, so that a long thin one costs no
  // more than its area and sides ask for.
  std::size_t apex = 0;
  double shortest = 1e300, longest = 0;
  for (std::size_t k = 0; k < 3; ++k) {
    const double side =
        (mesh.vertices[triangle[(k + 1) % 3]] - mesh.vertices[triangle[(k + 2) % 3]]).norm();
    if (side < shortest) apex = k;
    shortest = std::min(shortest, side);
    longest = std::max(longest, side);
  }
  const Vec3 &a = mesh.vertices[triangle[apex]], &b = mesh.vertices[triangle[(apex + 1) % 3]],
             &c = mesh.vertices[triangle[(apex + 2) % 3]];
  const auto pieces = [&](double length) {
    return std::max(1, static_cast<int>(std::ceil(length / fields.voxel)));
  };
  const std::size_t off_before = share.off.size(), beyond_before = share.beyond.size();
  const int rows = pieces(longest);
  for (int row = 0; row <= rows; ++row) {
    const double part = double(row) / rows;
    const int across = row == 0 ? 1 : pieces(part * shortest);
    for (int n = 0; n <= across; ++n) {
      const Vec3 p = a + part * (b - a + (c - b) * (double(n) / across));
      if (exactly && beside_edge(distance, p)) {
        share.edge_samples.push_back(p);
        share.edge_triangles.push_back(t);
        continue;
      }
      // A maximum of distances falls short of the way by sqrt(3) at most, at a corner of a box.
      const double value = std::abs(distance(p));
      if (std::sqrt(3.0) * value <= std::min(share.furthest, share.off_by)) continue;
      const double way = way_to_zero(distance, p);
      if (way >= 0)
        share.add(way, p);
      else
        share.beyond.push_back(p);
    }
  }
  if (share.off.size() > off_before || share.beyond.size() > beyond_before)
    share.off.insert(share.off.end(), {a, b, c});
}

// The nearest crossing to places that are far from any; leaf by leaf, nearest first.
class Crossings {
 public:
  Crossings(const std::vector<const stock::DistanceLeaf*>& leaves,
            const stock::Stock::Fields& fields)
      : leaves_(leaves), fields_(fields), distance_(fields) {}

  double way(const Vec3& from) {
    order_.clear();
    for (std::size_t i = 0; i < leaves_.size(); ++i) {
      const openvdb::CoordBBox cells = leaves_[i]->getNodeBoundingBox();
      const Box3 box(fields_.middle(cells.min()), fields_.middle(cells.max().offsetBy(1)));
      order_.emplace_back(box.exteriorDistance(from), i);
    }
    std::sort(order_.begin(), order_.end());
    double best = std::numeric_limits<double>::infinity();
    for (const auto& [at_least, i] : order_) {
      if (at_least >= best) break;
      for_crossings(*leaves_[i], distance_, fields_,
                    [&](const Vec3& p) { best = std::min(best, (p - from).norm()); });
    }
    return best;
  }

 private:
  const std::vector<const stock::DistanceLeaf*>& leaves_;
  const stock::Stock::Fields& fields_;
  stock::DistanceReader distance_;
  std::vector<std::pair<double, std::size_t>> order_;
};

// A place no further from one that was asked than that one's way fell short of the furthest cannot
// be further itself.
void add_beyond(const std::vector<Share>& shares, Crossings crossings, SurfaceError& error) {
  Vec3 asked = Vec3::Zero();
  double way = std::numeric_limits<double>::infinity();
  for (const Share& share : shares) {
    for (const Vec3& p : share.beyond) {
      if (way + (p - asked).norm() <= error.furthest) continue;
      way = crossings.way(p);
      asked = p;
      if (!(way > error.furthest) || !std::isfinite(way)) continue;
      error.furthest = way;
      error.furthest_at = p;
    }
  }
}

// The nearest place of the motions' own surface as f's slope leads there; none where it leads to
// none, or the grid tells that what was there fell off or was taken away.
std::optional<Vec3> on_motions(ExactPlace& place, const stock::FieldSampler& field,
                               const Vec3& from) {
  const double voxel = field.voxel();
  Vec3 at = from;
  for (int round = 0; round < 12; ++round) {
    const double f = place.value(at);
    if (std::abs(f) < 1e-6 * voxel) {
      if (field(at) > 0.5 * voxel) return std::nullopt;
      return at;
    }
    Vec3 slope;
    place.value_of(place.sheet_at(at), at, slope);
    at -= f / std::max(slope.squaredNorm(), 0.1) * slope;
    if ((at - from).norm() > 1.5 * voxel) return std::nullopt;
  }
  return std::nullopt;
}

// What the motions tell of places beside edges.
void add_edges(const stock::ExactStock& exact, const stock::Stock::Fields& fields,
               const solid::PartDistance& mesh, std::vector<Share>& shares) {
  std::vector<Vec3> places;
  std::vector<std::pair<Share*, std::size_t>> whose;  // number of the share's samples: a crossing
  for (Share& share : shares) {
    for (const Vec3& p : share.edge_crossings) {
      places.push_back(p);
      whose.emplace_back(&share, share.edge_samples.size());
    }
    for (std::size_t i = 0; i < share.edge_samples.size(); ++i) {
      places.push_back(share.edge_samples[i]);
      whose.emplace_back(&share, i);
    }
  }
  std::vector<std::optional<Vec3>> on(places.size());
  tbb::enumerable_thread_specific<stock::FieldSampler> fields_of(
      [&] { return stock::FieldSampler(fields); });
  for_places(exact, places, fields.voxel, 1.6 * fields.voxel,
             [&](ExactPlace& place, std::uint32_t i) {
               on[i] = on_motions(place, fields_of.local(), places[i]);
             });
  for (std::size_t i = 0; i < places.size(); ++i) {
    Share& share = *whose[i].first;
    const bool crossing = whose[i].second == share.edge_samples.size();
    if (crossing) {
      const Vec3 p = on[i].value_or(places[i]);
      const double away = std::abs(mesh.at_mostly_near(p, fields.voxel));
      share.add(away, p);
      share.sum += away;
      ++share.points;
      continue;
    }
    const double way =
        on[i] ? (*on[i] - places[i]).norm() : way_to_zero(stock::FieldSampler(fields), places[i]);
    if (way < 0) {
      share.beyond.push_back(places[i]);
    } else {
      share.add(way, places[i]);
      if (way <= share.off_by) continue;
    }
    for (const std::uint32_t v : mesh.mesh().triangles[share.edge_triangles[whose[i].second]])
      share.off.push_back(mesh.mesh().vertices[v]);
  }
}

}  // namespace

SurfaceError surface_error(const stock::Stock& stock, const Surface& surface, double off_by,
                           const stock::ExactStock* exact) {
  if (surface.empty()) return {};
  const stock::Stock::Fields& fields = stock.fields();
  const solid::PartDistance mesh(mesh_of(surface));
  std::vector<const stock::DistanceLeaf*> leaves;
  for (auto leaf = fields.steps->tree().cbeginLeaf(); leaf; ++leaf) leaves.push_back(&*leaf);
  const std::size_t piece = 4096, triangles = mesh.mesh().triangles.size();
  const std::size_t pieces = (triangles + piece - 1) / piece;
  std::vector<Share> shares(leaves.size() + pieces);
  tbb::parallel_for(std::size_t{0}, shares.size(), [&](std::size_t i) {
    shares[i].off_by = off_by;
    if (i < leaves.size()) {
      from_leaf(*leaves[i], stock::DistanceReader(fields), fields, mesh, exact != nullptr,
                shares[i]);
      return;
    }
    const stock::FieldSampler distance(fields);
    const std::size_t first = (i - leaves.size()) * piece;
    for (std::size_t t = first; t < std::min(triangles, first + piece); ++t)
      from_triangle(mesh.mesh(), t, distance, fields, exact != nullptr, shares[i]);
  });
  if (exact != nullptr) add_edges(*exact, fields, mesh, shares);
  SurfaceError error;
  for (const Share& share : shares) {
    if (share.furthest > error.furthest) {
      error.furthest = share.furthest;
      error.furthest_at = share.at;
    }
    error.mean += share.sum;
    error.points += share.points;
    if (!std::isfinite(off_by)) continue;
    error.off.insert(error.off.end(), share.off.begin(), share.off.end());
    error.off.insert(error.off.end(), share.beyond.begin(), share.beyond.end());
  }
  add_beyond(shares, Crossings(leaves, fields), error);
  if (error.points > 0) error.mean /= static_cast<double>(error.points);
  return error;
}

}  // namespace proveout::page
