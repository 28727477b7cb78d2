#include "sim/measure/stock_difference.h"

#include <openvdb/tools/Composite.h>
#include <openvdb/tools/GridTransformer.h>
#include <openvdb/tools/Interpolation.h>

#include <algorithm>
#include <cmath>

#include "sim/measure/measure.h"
#include "sim/stock/field_conversion.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using openvdb::FloatGrid;

struct Apart {
  double worst = 0, sum = 0, count = 0;
  Coord at;
};

// Whether the surface runs between a voxel and one of its six neighbours. A small distance alone
// does not say so: a cut leaves some of them in the air.
template <class Accessor>
bool at_surface(const Accessor& field, const Coord& at, double here) {
  for (int k = 0; k < 3; ++k) {
    for (int step : {-1, 1}) {
      Coord next = at;
      next[k] += step;
      if ((field.getValue(next) < 0) != (here < 0)) return true;
    }
  }
  return false;
}

// How far the other surface lies from a voxel beside this one. The other's field there says so
// directly, but where a sliver was taken away it was left far too large: then the way by the
// neighbour nearest to the other surface counts.
template <class Accessor>
double gap_at(const Accessor& other, const Coord& at, double here, double voxel) {
  double gap = std::abs(other.getValue(at) - here);
  if (gap <= 0.5 * voxel) return gap;
  for (int i = -1; i <= 1; ++i) {
    for (int j = -1; j <= 1; ++j) {
      for (int k = -1; k <= 1; ++k) {
        const Coord next = at.offsetBy(i, j, k);
        const double d = other.getValue(next);
        const double way = voxel * std::sqrt(i * i + j * j + k * k) + std::abs(d) + std::abs(here);
        if (way < gap && at_surface(other, next, d)) gap = way;
      }
    }
  }
  return gap;
}

// At the voxels of `of` beside its surface, how far `other`'s field lies from it. Same
// grid of voxels.
Apart apart(const FloatGrid& of, const FloatGrid& other, double voxel) {
  const openvdb::tree::LeafManager<const openvdb::FloatTree> leaves(of.tree());
  std::vector<Apart> parts(leaves.leafCount());
  tbb::parallel_for(std::size_t{0}, leaves.leafCount(), [&](std::size_t n) {
    const auto& leaf = leaves.leaf(n);
    auto there = other.getConstAccessor(), own = of.getConstAccessor();
    Apart& a = parts[n];
    for (openvdb::Index i = 0; i < 512; ++i) {
      const double d = leaf.getValue(i);
      if (std::abs(d) >= voxel) continue;
      const Coord at = leaf.offsetToGlobalCoord(i);
      if (!at_surface(own, at, d)) continue;
      const double gap = gap_at(there, at, d, voxel);
      a.sum += gap;
      a.count += 1;
      if (gap > a.worst) {
        a.worst = gap;
        a.at = at;
      }
    }
  });
  Apart all;
  for (const Apart& p : parts) {
    all.sum += p.sum;
    all.count += p.count;
    if (p.worst > all.worst) {
      all.worst = p.worst;
      all.at = p.at;
    }
  }
  return all;
}

}  // namespace

StockDifference stock_difference(const stock::Stock& first, const stock::Stock& second) {
  const bool swap = second.voxel() > first.voxel();
  const stock::Stock& coarse = swap ? second : first;
  const stock::Stock& fine = swap ? first : second;
  const FloatGrid::Ptr first_mm = stock::in_mm(coarse.fields());
  const FloatGrid& one = *first_mm;
  FloatGrid::Ptr two = stock::in_mm(fine.fields());
  const double voxel = coarse.voxel();
  if (std::abs(fine.voxel() - voxel) > 1e-9 * voxel) {
    // The finer field on the coarser one's voxels; its band may end sooner.
    auto matched = FloatGrid::create(two->background());
    matched->setTransform(one.transform().copy());
    matched->setGridClass(openvdb::GRID_LEVEL_SET);
    openvdb::tools::resampleToMatch<openvdb::tools::BoxSampler>(*two, *matched);
    two = matched;
  }
  StockDifference out;
  out.reach_mm = stock::Stock::Fields::band_voxels * fine.voxel();
  const Apart there = apart(one, *two, voxel), back = apart(*two, one, voxel);
  const Apart& worse = there.worst >= back.worst ? there : back;
  out.beyond_reach = worse.worst >= 0.95 * out.reach_mm;
  out.worst_mm = std::min(worse.worst, out.reach_mm);
  const auto at = one.indexToWorld(worse.at);
  out.worst_at = Vec3(at.x(), at.y(), at.z());
  const double count = there.count + back.count;
  out.mean_mm = count > 0 ? (there.sum + back.sum) / count : 0;

  const auto volume_of = [&](const FloatGrid& mm) {
    auto fields = std::make_unique<stock::Stock::Fields>();
    fields->voxel = voxel;
    fields->steps = stock::in_steps(mm.tree(), *fields);
    return volume(stock::Stock::of_fields(std::move(fields)));
  };
  const double both = volume_of(*openvdb::tools::csgIntersectionCopy(one, *two));
  const double v_one = volume(coarse), v_two = volume_of(*two);
  out.only_first_mm3 = std::max(0.0, (swap ? v_two : v_one) - both);
  out.only_second_mm3 = std::max(0.0, (swap ? v_one : v_two) - both);
  return out;
}

}  // namespace proveout::measure
