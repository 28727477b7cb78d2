// What the programs leave standing between the part and the rest of the blank.
#pragma once

#include <string>
#include <vector>

#include "parser/base/geometry.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/stock.h"

namespace proveout::propose {

struct Standing {
  std::vector<Box3> supports;  // stock coordinates, mm: from the part's face to beyond the kerf
  std::vector<std::string> remarks;  // what ties the part as well, and is too large for a support
};

// Material half way across the kerf, which reaches from the part to beyond the kerf: each connected
// place of it is one support. part: in the mesh's own coordinates; origin: mm, where they lie in
// the stock; kerf: mm, the narrowest gap, above two voxels. A place longer than five kerfs or of
// more than ten kerfs squared is none: whoever left that forgot to cut there, or has another way to
// hold the part.
Standing standing(const stock::Stock& stock, const solid::PartDistance& part, const Vec3& origin,
                  double kerf);

}  // namespace proveout::propose
