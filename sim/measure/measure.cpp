#include "sim/measure/measure.h"

#include <openvdb/tools/Composite.h>
#include <openvdb/tools/LevelSetUtil.h>
#include <openvdb/tools/Prune.h>

#include <algorithm>
#include <cmath>

#include "sim/measure/surface.h"
#include "sim/stock/occupancy.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using openvdb::FloatTree;

// Zeroth, first and second moments of the material in voxel units about the index origin.
struct Moments {
  double zero = 0;
  Vec3 one = Vec3::Zero();
  Eigen::Matrix3d two = Eigen::Matrix3d::Zero();
  void add(const Moments& o) {
    zero += o.zero;
    one += o.one;
    two += o.two;
  }
};

// A box of full voxels: sums of i and i^2 in closed form.
Moments box_moments(const openvdb::CoordBBox& box) {
  Moments m;
  double sum1[3], sum2[3], count[3];
  for (int k = 0; k < 3; ++k) {
    const double a = box.min()[k], b = box.max()[k];
    count[k] = b - a + 1;
    sum1[k] = (a + b) / 2 * count[k];
    sum2[k] = (b * (b + 1) * (2 * b + 1) - (a - 1) * a * (2 * a - 1)) / 6;
  }
  m.zero = count[0] * count[1] * count[2];
  for (int k = 0; k < 3; ++k) {
    const int p = (k + 1) % 3, q = (k + 2) % 3;
    m.one[k] = sum1[k] * count[p] * count[q];
    m.two(k, k) = sum2[k] * count[p] * count[q];
    m.two(p, q) = m.two(q, p) = sum1[p] * sum1[q] * count[k];
  }
  return m;
}

Moments moments(const FloatTree& tree, double voxel) {
  const openvdb::tree::LeafManager<const FloatTree> leaves(tree);
  std::vector<Moments> parts(leaves.leafCount());
  const stock::Occupancy occupancy(voxel);
  tbb::parallel_for(std::size_t{0}, leaves.leafCount(), [&](std::size_t n) {
    const auto& leaf = leaves.leaf(n);
    const float* values = leaf.buffer().data();
    Moments& m = parts[n];
    for (openvdb::Index i = 0; i < 512; ++i) {
      const double w = occupancy(values[i]);
      if (w == 0) continue;
      const Coord c = leaf.offsetToGlobalCoord(i);
      const Vec3 p(c.x(), c.y(), c.z());
      m.zero += w;
      m.one += w * p;
      m.two += w * p * p.transpose();
    }
  });
  Moments all;
  for (const Moments& m : parts) all.add(m);
  for (auto it = tree.cbeginValueAll(); it; ++it) {
    if (it.isVoxelValue() || *it >= 0) continue;
    openvdb::CoordBBox box;
    it.getBoundingBox(box);
    all.add(box_moments(box));
  }
  return all;
}

std::vector<openvdb::FloatGrid::Ptr> segments_of(const stock::Stock::Fields& fields) {
  std::vector<openvdb::FloatGrid::Ptr> segments;
  openvdb::tools::segmentSDF(*fields.distance, segments);
  return segments;
}

double shared_volume(const FloatTree& tree, const stock::Stock::Fields& fields,
                     const part::PartDistance& part) {
  // A sample of every fourth voxel each way is enough to tell pieces apart.
  double sum = 0;
  const double h = fields.voxel;
  openvdb::tree::ValueAccessor<const FloatTree, false> value(tree);
  const Box3 box = part::bounds(part.mesh());
  const int step = 4;
  const Coord low = fields.holding(box.min()), high = fields.holding(box.max());
  for (int x = low.x(); x <= high.x(); x += step) {
    for (int y = low.y(); y <= high.y(); y += step) {
      double reach =
          1e30;  // the distance changes by no more than the step from one place to the next
      for (int z = low.z(); z <= high.z(); z += step, reach += 1.001 * step * h) {
        const Coord c(x, y, z);
        if (value.getValue(c) >= 0) continue;
        const double away = part.at(fields.middle(c), reach);
        reach = std::abs(away);
        if (away < 0) sum += std::pow(step * h, 3);
      }
    }
  }
  return sum;
}

Piece piece_of(const FloatTree& tree, const stock::Stock::Fields& fields) {
  const double h = fields.voxel;
  const Moments m = moments(tree, h);
  Piece p;
  p.volume = m.zero * h * h * h;
  if (m.zero > 0) p.centre = fields.middle(Coord(0)) + m.one / m.zero * h;
  float deepest = 0;
  for (auto leaf = tree.cbeginLeaf(); leaf; ++leaf) {
    const float* values = leaf->buffer().data();
    for (openvdb::Index i = 0; i < 512; ++i) {
      if (values[i] >= deepest) continue;
      deepest = values[i];
      p.inside = fields.middle(leaf->offsetToGlobalCoord(i));
    }
  }
  return p;
}

}  // namespace

double volume(const stock::Stock& stock) {
  const auto& f = stock.fields();
  return moments(f.distance->tree(), f.voxel).zero * std::pow(f.voxel, 3);
}

MassProperties mass_properties(const stock::Stock& stock) {
  const auto& f = stock.fields();
  const Moments m = moments(f.distance->tree(), f.voxel);
  MassProperties out;
  const double h = f.voxel, cube = h * h * h;
  out.volume = m.zero * cube;
  if (!(m.zero > 0)) return out;
  const Vec3 mean = m.one / m.zero;
  out.centre = f.middle(Coord(0)) + mean * h;
  // Each voxel's own second moment about its middle is h^2 / 12 a unit of volume.
  const Eigen::Matrix3d about =
      (m.two / m.zero - mean * mean.transpose() + Eigen::Matrix3d::Identity() / 12) * h * h *
      out.volume;
  out.inertia = about.trace() * Eigen::Matrix3d::Identity() - about;
  return out;
}

Box3 extent(const stock::Stock& stock, const Eigen::Matrix3d& machine_from_stock,
            const std::optional<std::pair<double, double>>& band) {
  const auto& f = stock.fields();
  const auto box_of = [&](double low, double high) {
    std::vector<Box3> boxes(leaf_count(f));
    for_surface_points(f, false, [&](std::size_t leaf, const SurfacePoint& p) {
      const Vec3 at = machine_from_stock * p.at;
      if (at.z() >= low && at.z() <= high) boxes[leaf].extend(at);
    });
    Box3 all;
    for (const Box3& b : boxes) {
      if (!b.isEmpty()) all.extend(b);
    }
    return all;
  };
  const Box3 whole = box_of(-1e30, 1e30);
  if (!band || whole.isEmpty()) return whole;
  // An edge is touched at some height, the top from above: the band says where x and y are taken.
  Box3 out = box_of(whole.min().z() + band->first, whole.min().z() + band->second);
  if (out.isEmpty()) return whole;
  out.min().z() = whole.min().z();
  out.max().z() = whole.max().z();
  return out;
}

std::vector<Piece> pieces(const stock::Stock& stock) {
  std::vector<Piece> out;
  for (const auto& segment : segments_of(stock.fields())) {
    out.push_back(piece_of(segment->tree(), stock.fields()));
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Piece& a, const Piece& b) { return a.volume > b.volume; });
  return out;
}

bool hang_together(const stock::Stock& stock, const Vec3& a, const Vec3& b) {
  const auto& f = stock.fields();
  for (const auto& segment : segments_of(f)) {
    const bool has_a = segment->tree().getValue(f.holding(a)) < 0,
               has_b = segment->tree().getValue(f.holding(b)) < 0;
    if (has_a || has_b) return has_a && has_b;
  }
  return false;
}

std::vector<Piece> keep_one_piece(stock::Stock& stock, const part::PartDistance* part) {
  auto& f = stock.fields();
  const auto segments = segments_of(f);
  std::vector<std::pair<Piece, std::size_t>> found;
  for (std::size_t i = 0; i < segments.size(); ++i) {
    Piece p = piece_of(segments[i]->tree(), f);
    if (part != nullptr && segments.size() > 1)
      p.shared = shared_volume(segments[i]->tree(), f, *part);
    found.emplace_back(p, i);
  }
  std::stable_sort(found.begin(), found.end(), [&](const auto& a, const auto& b) {
    if (part != nullptr && a.first.shared != b.first.shared) return a.first.shared > b.first.shared;
    return a.first.volume > b.first.volume;
  });
  std::vector<Piece> out;
  for (const auto& p : found) out.push_back(p.first);
  if (segments.size() > 1) {
    const auto& kept = segments[found.front().second];
    kept->setTransform(f.distance->transformPtr());
    kept->setGridClass(openvdb::GRID_LEVEL_SET);
    kept->setName("distance");
    f.distance = kept;
  }
  return out;
}

void remove_boxes(stock::Stock& stock, std::span<const Box3> boxes) {
  auto& f = stock.fields();
  const auto band = static_cast<float>(f.voxel * stock::Stock::Fields::band_voxels);
  // Two surfaces in one place would leave a skin of no thickness that still weighs a tenth of a
  // voxel: where a box ends at the stock's own outermost face it is taken to go on beyond it.
  const Box3 all = extent(stock, Eigen::Matrix3d::Identity(), {});
  for (Box3 box : boxes) {
    for (int k = 0; k < 3; ++k) {
      const double near = 0.5 * f.voxel, beyond = 2 * band;
      if (std::abs(box.min()[k] - all.min()[k]) <= near) box.min()[k] -= beyond;
      if (std::abs(box.max()[k] - all.max()[k]) <= near) box.max()[k] += beyond;
    }
    // The box as a level set, sampled at the stock's own voxels.
    auto tool = openvdb::FloatGrid::create(band);
    tool->setTransform(f.distance->transformPtr());
    tool->setGridClass(openvdb::GRID_LEVEL_SET);
    const Vec3 half = Vec3::Constant(0.5 * f.voxel);
    const Coord low = f.holding(box.min() - half).offsetBy(-4),
                high = f.holding(box.max() - half).offsetBy(5);
    auto value = tool->getAccessor();
    for (int x = low.x(); x <= high.x(); ++x) {
      for (int y = low.y(); y <= high.y(); ++y) {
        for (int z = low.z(); z <= high.z(); ++z) {
          const Vec3 q = (f.middle(Coord(x, y, z)) - box.center()).cwiseAbs() - 0.5 * box.sizes();
          const double d = q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
          const auto clipped = static_cast<float>(std::clamp<double>(d, -band, band));
          if (std::abs(clipped) < band)
            value.setValueOn(Coord(x, y, z), clipped);
          else if (clipped < 0)
            value.setValueOff(Coord(x, y, z), clipped);
        }
      }
    }
    openvdb::tools::pruneLevelSet(tool->tree());
    openvdb::tools::csgDifference(*f.distance, *tool, true);
  }
}

}  // namespace proveout::measure
