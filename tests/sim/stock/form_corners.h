// A form tool by the corners of its profile, for the tests of this room.
#pragma once

#include <algorithm>
#include <utility>
#include <vector>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {

// radius, height; mm, heights never falling
using Corners = std::vector<std::pair<double, double>>;

inline job::Tool form_of(const Corners& corners) {
  double widest = 0;
  for (const auto& [radius, height] : corners) widest = std::max(widest, radius);
  job::Tool t = tool_of(job::ToolShape::form, 2 * widest);
  t.profile = corners;
  t.stickout = 0;
  return t;
}

}  // namespace proveout::stock
