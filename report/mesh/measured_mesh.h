// A stock's surface with its flat places joined, and how far that lies off the stock.
#pragma once

#include "report/page/build/surface.h"
#include "report/page/build/surface_error.h"
#include "sim/stock/stock.h"

namespace proveout::mesh_files {

struct MeasuredMesh {
  page::Surface surface;
  page::SurfaceError error;  // of this very surface
};

// surface: of this stock, stock coordinates, mm. Flat places are joined within a twentieth of a
// voxel (simplify.h) and the outcome is measured. Where a place is further off than half a voxel
// the triangles about it are left as they were, and it is measured again, some rounds at most; the
// nearest of all is given. exact: as in page::surface_error.
MeasuredMesh measured_mesh(const stock::Stock& stock, const page::Surface& surface,
                           const stock::ExactStock* exact = nullptr);

}  // namespace proveout::mesh_files
