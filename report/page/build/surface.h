// A stock's surface as triangles, for the page and for mesh files.
#pragma once

#include <cstdint>
#include <vector>

namespace proveout::page {

// Closed, stock coordinates. made_by and deviation are per vertex; deviation is empty where there
// is no part to compare with.
struct Surface {
  std::vector<float> vertices;           // x, y, z, mm
  std::vector<std::uint32_t> triangles;  // three vertices each, counter-clockwise from outside
  std::vector<std::uint32_t> made_by;    // motion over the whole job, 0: the blank's own
  std::vector<float> deviation;          // mm; positive: left on, negative: cut into the part
  bool empty() const { return triangles.empty(); }
};

}  // namespace proveout::page
