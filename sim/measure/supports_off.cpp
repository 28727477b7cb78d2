#include "sim/measure/supports_off.h"

#include <openvdb/tools/Prune.h>

#include <algorithm>
#include <cmath>

#include "sim/measure/measure.h"
#include "sim/stock/fields.h"

namespace proveout::measure {

void take_supports_off(stock::Stock& stock, std::span<const Box3> boxes,
                       const solid::FaceTree& part) {
  // Two surfaces in one place would leave a skin of no thickness that still weighs a tenth of a
  // voxel: where a box ends at the stock's own outermost face it is taken to go on beyond it.
  const Box3 all = extent(stock, Eigen::Matrix3d::Identity(), {});
  auto fields = std::move(stock).take_fields();
  stock::Stock::Fields& f = *fields;
  const double band = f.band();
  const auto rounding = f.rounding();
  auto steps = f.steps->getAccessor();
  for (Box3 box : boxes) {
    for (int k = 0; k < 3; ++k) {
      const double near = 0.5 * f.voxel, beyond = 2 * band;
      if (std::abs(box.min()[k] - all.min()[k]) <= near) box.min()[k] -= beyond;
      if (std::abs(box.max()[k] - all.max()[k]) <= near) box.max()[k] += beyond;
    }
    const Vec3 half = Vec3::Constant(0.5 * f.voxel);
    openvdb::CoordBBox reached(f.holding(box.min() - half).offsetBy(-4),
                               f.holding(box.max() - half).offsetBy(5));
    for (const openvdb::Coord& at : reached) {
      const std::int16_t old = steps.getValue(at);
      const Vec3 middle = f.middle(at);
      const Vec3 q = (middle - box.center()).cwiseAbs() - 0.5 * box.sizes();
      // How deep in what goes: in the box, and outside the part.
      double deep = -(q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0));
      if (rounding(static_cast<float>(std::clamp(deep, -band, band))) <= old) continue;
      deep = std::min(deep, part.at(middle));
      const std::int16_t left = rounding(static_cast<float>(std::clamp(deep, -band, band)));
      if (left <= old) continue;
      if (left < stock::Stock::Fields::band_steps)
        steps.setValueOn(at, left);
      else
        steps.setValueOff(at, left);
    }
  }
  openvdb::tools::pruneLevelSet(f.steps->tree());
  stock = stock::Stock::of_fields(std::move(fields));
}

}  // namespace proveout::measure
