// How far places near the part lie from it, on a lattice: for what the page works out itself.
#pragma once

#include "report/page/build/surface_nets.h"
#include "sim/solid/part_distance.h"

namespace proveout::page {

// Over the part and reach (mm, > 0) about it; values mm, negative inside, no larger than reach and
// two steps more either way, so that what is read between points is right up to reach. At most
// about most_points points. Between them a linear reading is exact beside plane faces, off by
// step^2 / (8 radius) beside curved ones and by up to a third of a step at edges.
Lattice part_field(const solid::PartDistance& part, double reach, std::size_t most_points = 400000);

}  // namespace proveout::page
