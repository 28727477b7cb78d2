// One line through the stock, as a probe would feel it.
#pragma once

#include <memory>

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// Height (mm, setup frame) of the highest material on the line through (x, y) (mm, setup frame)
// along the setup's z; -1e9 where the line meets none. To a tenth of a voxel on faces across it.
double highest_on_line(const stock::Stock& stock, const RigidMotion& stock_from_setup, double x,
                       double y);

// The distance at places, one after the other: mm, negative in material, trilinear between voxels,
// cut off some voxels away. Not for use from several threads; stock must outlive it unchanged.
class StockProbe {
 public:
  explicit StockProbe(const stock::Stock& stock);
  ~StockProbe();
  double at(const Vec3& place) const;  // mm, stock coordinates

 private:
  struct Sampler;
  std::unique_ptr<Sampler> sampler_;
};

}  // namespace proveout::measure
