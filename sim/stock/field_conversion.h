// The stock's distances as the library's own kind of level set and back: for files and for the
// library's tools. Needs OpenVDB.
#pragma once

#include "sim/stock/fields.h"

namespace proveout::stock {

// mm, same voxels and transform; every step has its own number.
openvdb::FloatGrid::Ptr in_mm(const Stock::Fields& fields);

// Rounded to steps. mm: a level set on the voxels of `fields`, whose voxel is set.
DistanceGrid::Ptr in_steps(const openvdb::FloatTree& mm, const Stock::Fields& fields);

}  // namespace proveout::stock
