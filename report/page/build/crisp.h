// The stock's edges and corners in a surface net, from the motions' own distances: dual contouring
// of Hermite data (Ju, Losasso, Schaefer and Warren, "Dual contouring of Hermite data", SIGGRAPH
// 2002). The grid's distances, straight between voxels, round an edge by up to half a voxel; along
// plain faces they are right, and nothing is asked of the motions there.
//
// What fell off or was taken away is no motion: where the grid tells more air than the motions by
// over half a voxel, the grid is believed.
#pragma once

#include "report/page/build/surface_nets.h"
#include "sim/stock/exact_stock.h"
#include "sim/stock/stock.h"

namespace proveout::page {

// Lattice points beside edges get the motions' own distance, so that the net has its vertices in
// the cells the edge goes through. lattice: its values by the grid (mm).
void make_exact(const stock::ExactStock& exact, const stock::Stock& stock, Lattice& lattice);

// Vertices in cells in which faces meet go to where they do; of the quads about them the diagonal
// that lies nearer to the surface is taken. True for each vertex that was placed so. lattice: as
// the net was made from it.
std::vector<char> sharpen(const stock::ExactStock& exact, const stock::Stock& stock,
                          const Lattice& lattice, SurfaceNet& net);

}  // namespace proveout::page
