// The surface of a stock as the page draws it.
#pragma once

#include "report/page/build/surface.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/exact_stock.h"
#include "sim/stock/stock.h"

namespace proveout::page {

// Mesh in stock coordinates, mm, of about most_vertices vertices at most (never finer than the
// voxels). Vertices are moved onto the level set's zero along its gradient, by at most half a cell.
// exact: the motions the stock was cut by; vertices beside edges go to where the motions' own faces
// meet (crisp.h). nullptr: edges sharper than a cell are rounded by it. made_by comes from the
// nearest voxel that knows its motion. part: may be null; then there is no deviation.
Surface stock_surface(const stock::Stock& stock, const solid::PartDistance* part,
                      std::size_t most_vertices, const stock::ExactStock* exact = nullptr);

}  // namespace proveout::page
