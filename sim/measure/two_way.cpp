#include "sim/measure/two_way.h"

#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <unordered_map>

#include "sim/measure/deviation_regions.h"
#include "sim/measure/nearest_surface.h"
#include "sim/measure/two_way_cell.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using openvdb::CoordBBox;

// Tiles of the grid that hold stock or part.
CoordBBox tiles_of(const TwoWayInput& in) {
  const auto& f = in.kept.fields();
  CoordBBox box;
  f.steps->tree().evalLeafBoundingBox(box);
  const Box3 part = mesh::bounds(in.part.mesh());
  box.expand(f.holding(part.min()).offsetBy(-1));
  box.expand(f.holding(part.max()).offsetBy(1));
  return {Coord(box.min().x() >> 5, box.min().y() >> 5, box.min().z() >> 5),
          Coord(box.max().x() >> 5, box.max().y() >> 5, box.max().z() >> 5)};
}

// Outward normals of the part's faces that hold a place of its surface.
std::vector<Vec3> normals_at(const mesh::Mesh& mesh, const Vec3& at) {
  std::vector<Vec3> normals;
  constexpr double hair = 1e-4;  // mm: places are kept in single precision
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    const Vec3 low = a.cwiseMin(b).cwiseMin(c), high = a.cwiseMax(b).cwiseMax(c);
    if ((at.array() < low.array() - hair).any() || (at.array() > high.array() + hair).any())
      continue;
    const Vec3 normal = (b - a).cross(c - a).normalized();
    if (std::abs(normal.dot(at - a)) <= hair) normals.push_back(normal);
  }
  return normals;
}

// From a place of the part's surface inwards: how far until there is stock, or the part ends; at an
// edge or corner along the normal of the face where that is least. By the grid's distances, to a
// hundredth of a voxel.
double thickness_from(const TwoWayInput& in, const Vec3& at) {
  const auto& f = in.kept.fields();
  const stock::FieldSampler stock(f);
  const double longest = mesh::bounds(in.part.mesh()).sizes().norm(), step = 0.25 * f.voxel;
  double least = longest;
  for (const Vec3& normal : normals_at(in.part.mesh(), at)) {
    const auto missing = [&](double way) {
      // A hair aside of faces that hold the way itself.
      const Vec3 p = at - way * normal;
      return stock(p) > 0 && in.part.at(p) < 2e-4;
    };
    double way = step;
    while (way < least && missing(way)) way += step;
    double low = way - step, high = way;
    for (int i = 0; i < 8; ++i) (missing(0.5 * (low + high)) ? low : high) = 0.5 * (low + high);
    least = std::min(least, 0.5 * (low + high));
  }
  return least;
}

// The grid's nearest point of the stock's surface moves on to the motions' own surface, and along
// its face to where the way from `at` is shortest; it stays where that leads out of the surface.
void slide_to_foot(stock::NearMotions& motions, const Vec3& at, double voxel,
                   NearestSurface::Found& found) {
  using stock::NearMotions;
  const Vec3 about = Vec3::Constant(2 * voxel);
  motions.load(Box3(found.on - about, found.on + about));
  // Onto the surface; false: not the motions' own there (what fell off, the blank's face).
  const auto settle = [&](Vec3& on, Vec3& slope) {
    for (int round = 0; round < 3; ++round) {
      std::uint32_t by = NearMotions::none;
      const double off = motions.value(motions.all(), on, &by);
      if (by == NearMotions::none || !(std::abs(off) < 0.5 * voxel)) return false;
      slope = -motions.near(by, on).slope;
      on -= off * slope / slope.squaredNorm();
    }
    return std::abs(motions.value(motions.all(), on)) < 1e-3 * voxel;
  };
  Vec3 on = found.on, slope = Vec3::Zero();
  if (!settle(on, slope)) return;
  for (double share = 1; share > 0.1;) {
    const Vec3 way = at - on;
    const Vec3 along = share * (way - way.dot(slope) / slope.squaredNorm() * slope);
    if (along.norm() < 1e-4 * voxel) break;
    Vec3 next = on + along, next_slope = slope;
    if (along.norm() < voxel && settle(next, next_slope) && (at - next).norm() < way.norm()) {
      on = next;
      slope = next_slope;
    } else {
      share *= 0.5;
    }
  }
  found.way = (at - on).norm();
  found.on = on;
}

// Where the part's surface lies bare, far from all stock, depth is the way to the nearest of it.
void look_from_part(const TwoWayInput& in, const std::vector<Eigen::Vector3f>& bare,
                    DeviationRegions& regions, TwoWay& out) {
  const auto& f = in.kept.fields();
  const stock::DistanceReader grid(f);
  std::vector<Vec3> places;
  // Corners first: a distance is largest there as a rule, and what follows is then soon passed
  // over.
  for (const Vec3& v : in.part.mesh().vertices) {
    if (grid.at(f.holding(v)) > in.gouge_tolerance + 0.9 * f.voxel) places.push_back(v);
  }
  for (const auto& p : bare) places.push_back(p.cast<double>());
  if (places.empty()) return;
  const NearestSurface nearest(f);
  if (nearest.empty()) {
    // No stock at all: as deep as the part is thick.
    out.worst_gouge_at = places.front();
    out.worst_gouge = thickness_from(in, places.front());
    for (DeviationRegion& r : regions.regions()) r.depth = std::max(r.depth, out.worst_gouge);
    return;
  }
  struct Last {
    Vec3 at;
    double way = 0;
    bool any = false;
  };
  std::unordered_map<std::size_t, Last> last;
  const stock::FieldSampler sampled(f);
  stock::NearMotions motions(in.exact);
  // Within the band the grid's surface points are too sparse against the way: there f itself, which
  // is never more than it, is asked.
  const double band = 2.4 * f.voxel;
  for (const Vec3& at : places) {
    const std::size_t r = regions.beside(f.holding(at));
    if (r == DeviationRegions::npos) continue;
    DeviationRegion& region = regions.regions()[r];
    Last& before = last[r];
    // A distance grows by no more than the way between two places.
    if (before.any && before.way + (at - before.at).norm() <= region.depth) continue;
    NearestSurface::Found found;
    if (const double about = sampled(at); about < band) {
      if (about + 0.6 * f.voxel <= region.depth) continue;
      motions.load(Box3(at, at));
      found.way = motions.value(motions.all(), at);
    } else {
      found = nearest.from(at);
      slide_to_foot(motions, at, f.voxel, found);
      before = {at, found.way, true};
    }
    if (found.way <= region.depth) continue;
    if (region.by == stock::from_blank) region.by = found.by;
    region.depth = found.way;
    region.at = at;
    if (found.way <= out.worst_gouge) continue;
    out.worst_gouge = found.way;
    out.worst_gouge_at = at;
  }
}

}  // namespace

double cross_check_bound(const TwoWay& found, double voxel) {
  return 0.5 * voxel * voxel + 0.02 * voxel * found.surface_mm2 + 0.15 * found.thin_mm3;
}

TwoWay compare_two_ways(const TwoWayInput& in) {
  const CoordBBox tiles = tiles_of(in);
  const Coord across = tiles.dim();
  const auto count = static_cast<std::size_t>(across.x()) * static_cast<std::size_t>(across.y()) *
                     static_cast<std::size_t>(across.z());
  std::vector<std::unique_ptr<TileDeviation>> found(count);
  tbb::enumerable_thread_specific<TileJudge> judges([&] { return TileJudge(in); });
  tbb::parallel_for(tbb::blocked_range<std::size_t>(0, count, 1), [&](const auto& range) {
    for (std::size_t n = range.begin(); n != range.end(); ++n) {
      const auto part = static_cast<std::size_t>(across.z());
      const auto row = static_cast<std::size_t>(across.y());
      const Coord tile(static_cast<int>(n / part / row), static_cast<int>(n / part % row),
                       static_cast<int>(n % part));
      const Coord at = tile + tiles.min();
      TileDeviation d = judges.local().judge(Coord(at.x() * 32, at.y() * 32, at.z() * 32));
      if (d.shared_mm3 != 0 || d.gouge_mm3 != 0 || d.excess_mm3 != 0 || d.thin_mm3 != 0 ||
          !d.bare.empty())
        found[n] = std::make_unique<TileDeviation>(std::move(d));
    }
  });
  TwoWay out;
  out.finest = finest_cell_voxels * in.kept.voxel();
  std::vector<DeviationBin> missing, left;
  std::vector<Eigen::Vector3f> bare;
  for (const auto& d : found) {  // in the tiles' order, whoever did them
    if (!d) continue;
    out.gouge_mm3 += d->gouge_mm3;
    out.excess_mm3 += d->excess_mm3;
    out.shared_mm3 += d->shared_mm3;
    out.surface_mm2 += d->surface_mm2;
    out.contradicted_mm3 += d->contradicted_mm3;
    out.thin_mm3 += d->thin_mm3;
    if (d->worst_gouge > out.worst_gouge) {
      out.worst_gouge = d->worst_gouge;
      out.worst_gouge_at = d->worst_gouge_at;
    }
    if (d->worst_excess > out.worst_excess) {
      out.worst_excess = d->worst_excess;
      out.worst_excess_at = d->worst_excess_at;
    }
    missing.insert(missing.end(), d->missing.begin(), d->missing.end());
    left.insert(left.end(), d->left.begin(), d->left.end());
    bare.insert(bare.end(), d->bare.begin(), d->bare.end());
  }
  DeviationRegions of_missing(std::move(missing)), of_left(std::move(left));
  const double of_surface = out.worst_gouge;
  look_from_part(in, bare, of_missing, out);
  out.gouges = of_missing.deepest_first();
  out.excesses = of_left.deepest_first();
  for (const DeviationRegion& r : out.gouges) out.gouge_beyond_mm3 += r.volume_mm3;
  for (const DeviationRegion& r : out.excesses) out.excess_beyond_mm3 += r.volume_mm3;
  // Below the part's face the way to the stock is the thickness; from the part's face it may not
  // be.
  out.worst_gouge_thickness =
      out.worst_gouge > of_surface ? thickness_from(in, out.worst_gouge_at) : out.worst_gouge;
  return out;
}

}  // namespace proveout::measure
