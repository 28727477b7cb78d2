// The stock's OpenVDB grids, for the rooms that measure, mesh or draw it. Include this only where
// the grids are touched: OpenVDB's headers are slow to compile.
#pragma once

#include <openvdb/openvdb.h>

#include "sim/stock/stock.h"

namespace proveout::stock {

struct Stock::Fields {
  openvdb::FloatGrid::Ptr distance;    // mm, negative inside; level set, half width band_voxels
  openvdb::Int32Grid::Ptr provenance;  // MotionId that made the surface at this voxel; 0: blank
  double voxel = 0;                    // mm; voxel (i,j,k) has its centre at ((i,j,k)+0.5)*voxel
  static constexpr double band_voxels = 3;
};

}  // namespace proveout::stock
