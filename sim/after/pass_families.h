// Passes of one kind that a program makes again and again: a contour at level under level, rows
// side by side, laps one outside the other. How many there are depends on depth and step-over.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/run/result.h"

namespace proveout::after {

enum class PassFreedom : std::uint8_t {
  depth,  // levels of the same contour
  width   // parallel rows, or nested closed laps, at one level
};

struct PassFamily {
  PassFreedom freedom = PassFreedom::depth;
  int tool = 0;
  std::size_t passes = 0;
  // depth: mm, the greatest step down, and from the first pass's top to the last pass's floor;
  // width: mm, the spacing, and from the first pass's middle line to the last one's.
  double step = 0, whole = 0;
  double met = 0;  // mm: greatest depth, or median width, of what the passes met
  std::vector<std::uint32_t>
      motions;  // of the passes alone, without what leads from one to another

  // Passes it takes with steps of at most that, mm, > 0.
  std::size_t passes_with(double step) const;
};

// Level passes of flat and bull-nosed tools that met material on each: of depth where they cover
// the same box (to 0.01 mm) by the same way (to 0.1 mm), each deeper than the one before, with no
// material left between them; of width where three or more straight rows lie beside each other at
// one spacing, or three or more closed laps have boxes that grow, or shrink, alike on all sides. A
// motion is in one family of each freedom at most.
std::vector<PassFamily> pass_families(const run::SetupResult& setup, const job::Job& job);

}  // namespace proveout::after
