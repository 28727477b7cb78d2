// One line through the stock, as a probe would feel it.
#pragma once

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// Height (mm, setup frame) of the highest material on the line through (x, y) (mm, setup frame)
// along the setup's z; -1e9 where the line meets none. To a tenth of a voxel on faces across it.
double highest_on_line(const stock::Stock& stock, const RigidMotion& stock_from_setup, double x,
                       double y);

}  // namespace proveout::measure
