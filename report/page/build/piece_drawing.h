// The piece as it lies on the machine before a setup, for the drawing on the sheet.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "sim/stock/stock.h"

namespace proveout::page {

// {plan, front, low, high}; null: nothing is left. low, high: corners of the box about the piece,
// mm, setup frame, a skin at top or bottom left out. plan, front: lists of {at, contours}. plan:
// sections square to z, half a millimetre below the piece's top and above its bottom (less where it
// is thinner than five), contours as x, y, x, y..; front: one section square to y through the
// piece's middle, contours as x, z. at and contours: mm, setup frame, within 0.03 mm of the stock's
// own section (sim/measure/section.h).
nlohmann::ordered_json piece_drawing(const stock::Stock& stock,
                                     const RigidMotion& stock_from_setup);

}  // namespace proveout::page
