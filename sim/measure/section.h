// A plane through the stock: area, perimeter and closed contours, to a fraction of a voxel.
#pragma once

#include <vector>

#include "parser/base/geometry.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct Contour {                        // closed: the last point joins the first
  std::vector<Eigen::Vector2d> points;  // mm, in the plane's frame
  double area_mm2 = 0;  // counter-clockwise and positive round material, negative round a hole
  double length_mm = 0;
};

struct Section {
  double area_mm2 = 0;
  double perimeter_mm = 0;        // holes included
  std::vector<Contour> contours;  // largest area first
};

// The section with z = 0 of a frame that stock_from_plane places. The field, straight between
// voxels, is sampled once a voxel and its zero followed by marching squares (Lorensen and Cline,
// SIGGRAPH 1987, in the plane); where four samples leave it open which corners hang together, their
// mean decides. Walls lie within 5 % of a voxel, sharp corners are cut off by up to half of one. A
// plane that lies in a face of the stock, to within half a voxel, may count it either way.
Section section(const stock::Stock& stock, const RigidMotion& stock_from_plane);

}  // namespace proveout::measure
