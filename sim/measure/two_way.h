// The stock that is left against the part, both ways and by volume, from the motions' own
// distances. The grid says which cells lie near a surface and what was taken away by hand or fell
// off; values, extremes and volumes come from ExactStock and the part's mesh.
//
// Missing is the part without stock (part \ stock), left on the stock outside the part
// (stock \ part).
#pragma once

#include <span>
#include <vector>

#include "sim/solid/face_tree.h"
#include "sim/stock/exact_stock.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// What is missing, or left on, in one place beyond the tolerance: cells of four voxels that hang
// together over faces, edges or corners.
struct DeviationRegion {
  Vec3 at = Vec3::Zero();  // mm, stock coordinates: the worst place
  double depth = 0;        // mm: missing: to the nearest stock; left on: to the part
  double area_mm2 = 0;     // of the part's surface that is missing, of the stock's that is left on
  double volume_mm3 = 0;
  stock::MotionId by = stock::from_blank;  // made the surface there, or passed nearest
  bool passed = false;                     // by made no surface there: it passed nearest
};

struct TwoWay {
  double gouge_mm3 = 0, excess_mm3 = 0;                // whatever the tolerance
  double gouge_beyond_mm3 = 0, excess_beyond_mm3 = 0;  // in regions beyond it
  // Missing: the larger of the stock's deepest place below the part's surface and the part's
  // furthest missing place from the nearest stock. Thickness: from that place along the part's
  // inward normal to stock, or out of the part.
  double worst_gouge = 0, worst_gouge_thickness = 0;
  double worst_excess = 0;  // of the stock's surface, from the part
  Vec3 worst_gouge_at = Vec3::Zero(), worst_excess_at = Vec3::Zero();  // mm, stock coordinates
  double shared_mm3 = 0;                                               // part with stock
  double surface_mm2 = 0;  // about: of the stock's surface that was looked at
  double finest = 0;       // mm: edge of the smallest cell looked into
  // Where motions and grid tell different sides by more than a tenth of a voxel each: volume of
  // such voxels. 0 unless one of the two is wrong.
  double contradicted_mm3 = 0;
  // Of voxels beside the surface in which the grid sees no one face: thin walls, edges, skins
  // without thickness. What the grid tells of their volume is smeared.
  double thin_mm3 = 0;
  std::vector<DeviationRegion> gouges, excesses;  // deepest first
};

struct TwoWayInput {
  const stock::ExactStock& exact;
  const stock::Stock& kept;  // the piece that goes on, sawn off parts gone
  const solid::FaceTree& part;
  double gouge_tolerance = 0, excess_tolerance = 0;  // mm, >= 0
  // Supports taken off by hand: within them nothing counts as left on. mm, stock coordinates.
  std::span<const Box3> sawn;
};

// Same result for any number of threads.
TwoWay compare_two_ways(const TwoWayInput& input);

// How far volume left less the mesh's volume may lie from excess less gouge, mm3: what smearing the
// grid's surface over voxels is off by, as measured on closed forms (docs/accuracy.md).
double cross_check_bound(const TwoWay& found, double voxel);

// Share of a voxel by which a surface may lie off the part and not be looked for.
inline constexpr double unresolved_voxels = 0.01;

// Edge of the tiles it works by.
inline constexpr int comparison_tile_voxels = 32;

// Cells go down to this share of a voxel where surfaces bend.
inline constexpr double finest_cell_voxels = 0.25;

}  // namespace proveout::measure
