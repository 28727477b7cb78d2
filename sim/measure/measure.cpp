#include "sim/measure/measure.h"

#include <openvdb/tools/Prune.h>

#include <algorithm>
#include <cmath>

#include "sim/measure/moments.h"
#include "sim/measure/surface.h"
#include "sim/stock/occupancy.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;

Moments moments(const stock::Stock::Fields& fields) {
  const openvdb::tree::LeafManager<const stock::DistanceTree> leaves(fields.steps->tree());
  std::vector<Moments> parts(leaves.leafCount());
  const stock::Occupancy occupancy(fields.voxel);
  const stock::DistanceReader distance(fields);
  tbb::parallel_for(std::size_t{0}, leaves.leafCount(), [&](std::size_t n) {
    const auto& leaf = leaves.leaf(n);
    const std::int16_t* steps = leaf.buffer().data();
    for (openvdb::Index i = 0; i < 512; ++i) {
      const double share = occupancy(distance.mm(steps[i]));
      if (share != 0) parts[n].add(leaf.offsetToGlobalCoord(i), share);
    }
  });
  Moments all;
  for (const Moments& m : parts) all.add(m);
  stock::for_blocks_of_material(fields.steps->tree(), [&](const auto& it) {
    openvdb::CoordBBox box;
    it.getBoundingBox(box);
    all.add(box_moments(box));
  });
  return all;
}

}  // namespace

double volume(const stock::Stock& stock) {
  const auto& f = stock.fields();
  return moments(f).zero * std::pow(f.voxel, 3);
}

MassProperties mass_properties(const stock::Stock& stock) {
  const auto& f = stock.fields();
  const Moments m = moments(f);
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

void remove_boxes(stock::Stock& stock, std::span<const Box3> boxes) {
  // Two surfaces in one place would leave a skin of no thickness that still weighs a tenth of a
  // voxel: where a box ends at the stock's own outermost face it is taken to go on beyond it.
  const Box3 all = extent(stock, Eigen::Matrix3d::Identity(), {});
  auto fields = std::move(stock).take_fields();
  stock::Stock::Fields& f = *fields;
  const double band = f.band();
  const stock::Stock::Fields::Rounding rounding = f.rounding();
  auto steps = f.steps->getAccessor();
  for (Box3 box : boxes) {
    for (int k = 0; k < 3; ++k) {
      const double near = 0.5 * f.voxel, beyond = 2 * band;
      if (std::abs(box.min()[k] - all.min()[k]) <= near) box.min()[k] -= beyond;
      if (std::abs(box.max()[k] - all.max()[k]) <= near) box.max()[k] += beyond;
    }
    const Vec3 half = Vec3::Constant(0.5 * f.voxel);
    const Coord low = f.holding(box.min() - half).offsetBy(-4),
                high = f.holding(box.max() - half).offsetBy(5);
    for (int x = low.x(); x <= high.x(); ++x) {
      for (int y = low.y(); y <= high.y(); ++y) {
        for (int z = low.z(); z <= high.z(); ++z) {
          const Coord at(x, y, z);
          const Vec3 q = (f.middle(at) - box.center()).cwiseAbs() - 0.5 * box.sizes();
          const double d = q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
          const std::int16_t left = rounding(static_cast<float>(std::clamp(-d, -band, band)));
          if (left <= steps.getValue(at)) continue;
          if (left < stock::Stock::Fields::band_steps)
            steps.setValueOn(at, left);
          else
            steps.setValueOff(at, left);
        }
      }
    }
  }
  openvdb::tools::pruneLevelSet(f.steps->tree());
  stock = stock::Stock::of_fields(std::move(fields));
}

}  // namespace proveout::measure
