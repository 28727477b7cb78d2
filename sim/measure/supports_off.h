// Supports taken off the finished piece, as a saw and a file would.
#pragma once

#include <span>

#include "sim/solid/face_tree.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// Takes away of the stock what lies in a box (mm, stock coordinates) and outside the part: down to
// the part's face and no further, however far the box reaches into it.
void take_supports_off(stock::Stock& stock, std::span<const Box3> boxes,
                       const solid::FaceTree& part);

}  // namespace proveout::measure
