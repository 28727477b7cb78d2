// What ties the part to the rest of the stock: every bridge (support, tab, skin) and its smallest
// section. How and how well: docs/measuring.md.
#pragma once

#include <vector>

#include "parser/base/geometry.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

struct Bridge {
  double area_mm2 = 0;          // smallest section that cuts it
  double thickness = 0;         // mm across that section where it is narrow; of a skin the least
                                // that a tenth of it is thinner than
  Vec3 at = Vec3::Zero();       // mm, stock coordinates: middle of that section
  Vec3 axis = Vec3::Zero();     // unit, square to the section; zero where it runs round the part
  stock::MotionId left_by = 0;  // the motion that last cut the surface there
  // mm3 of all that it leads to, itself with it, where that is a stub: a bit of material beside the
  // part that is little more than the bridge, so that no clamp could hold it. 0: it leads to more.
  double stub_mm3 = 0;
};

// The part's bridges, in the order of their first place (x, then y, then z). kerf: mm > 0, the
// narrowest gap there can be between the part and what it is tied to (the smallest cutter that
// made it): material further out belongs to the rest. What stands on the part and reaches no
// further than that is no bridge. Smallest section: the least of the sections at a constant
// distance from the part (areas by smeared occupancies, co-area formula) and, of a compact bridge,
// of plane sections turned and shifted until none is smaller. So it is never smaller than the true
// least cut but for the sampling; larger where that cut is neither plane nor at a constant
// distance. A stub: what hangs together outside the part is less than twice what its bridges would
// be at their smallest section out to the gap's far side, and they meet less than a twentieth of
// the part's surface. So a block whose edge is nearer to the part than the cutter is wide, cut
// round with tabs left, has bridges that hold nothing.
std::vector<Bridge> bridges(const stock::Stock& stock, const solid::PartDistance& part,
                            double kerf);

}  // namespace proveout::measure
