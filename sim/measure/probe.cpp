#include "sim/measure/probe.h"

#include <cmath>

#include "sim/measure/plane_section.h"
#include "sim/stock/fields.h"

namespace proveout::measure {

double highest_on_line(const stock::Stock& stock, const RigidMotion& stock_from_setup, double x,
                       double y) {
  const auto& f = stock.fields();
  const double h = f.voxel;
  const openvdb::CoordBBox active = f.steps->evalActiveVoxelBoundingBox();
  if (active.empty()) return -1e9;
  // The line's height range over the material, in the setup frame.
  const RigidMotion setup_from_stock = stock_from_setup.inverse();
  Box3 box;
  for (int corner = 0; corner < 8; ++corner) {
    const auto pick = [&](int axis) {
      return corner >> axis & 1 ? active.max()[axis] + 1 : active.min()[axis];
    };
    box.extend(setup_from_stock * f.corner(openvdb::Coord(pick(0), pick(1), pick(2))));
  }
  const FieldSampler distance(f);
  const auto value = [&](double z) { return distance(stock_from_setup * Vec3(x, y, z)); };
  double above = box.max().z() + h, outside = value(above);
  while (above > box.min().z() - h) {
    const double z = above - h / 2, inside = value(z);
    if (inside < 0) {
      const double span = outside - inside;
      return span > 0 ? z + (above - z) * (-inside) / span : z;
    }
    above = z;
    outside = inside;
  }
  return -1e9;
}

struct StockProbe::Sampler : FieldSampler {
  using FieldSampler::FieldSampler;
};
StockProbe::StockProbe(const stock::Stock& stock)
    : sampler_(std::make_unique<Sampler>(stock.fields())) {}
StockProbe::~StockProbe() = default;
double StockProbe::at(const Vec3& place) const { return (*sampler_)(place); }

}  // namespace proveout::measure
