// Whether two programs mean the same. What is written does not count (comments, numbers of blocks,
// spacing, order of words, modal repeats, cycles or subprograms against plain moves), only what the
// machine does.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>

#include "parser/nc/program.h"

namespace proveout::nc {

struct Difference {
  std::uint64_t motion = 0;  // number of the motion, from 1, at or before which the programs part
  std::uint32_t first_line = 0;  // in the first program; 0: it has ended there
  std::uint32_t second_line = 0;
  std::string what;  // "ends at X3 Y0 Z-1, not X3 Y0 Z-2"
};

// The first difference; nullopt: they mean the same. length_tolerance: mm, for ends, centres and
// path tolerances; feeds, speeds and waits count as equal within 1e-6 of their size. Motions of no
// length and messages do not count.
std::optional<Difference> first_difference(const Program& first, const Program& second,
                                           double length_tolerance = 1e-6);

// Counts what a program asks for.
struct Statistics : Sink {
  std::uint64_t rapids = 0, lines = 0, arcs = 0, tool_changes = 0, stops = 0;
  double rapid_mm = 0, feed_mm = 0, dwell_s = 0;
  double least_feed = 0, largest_feed = 0;  // mm/min
  // mm, setup frame: of feed moves, and of all places the program names. An axis counts from where
  // the program first names or moves it: where the tool stood before is not the program's.
  struct Extent {
    Vec3 low = Vec3::Constant(1e300), high = Vec3::Constant(-1e300);
    bool has(int axis) const { return low[axis] <= high[axis]; }
  };
  Extent cutting, programmed;
  void motion(const Motion& motion, const ModalState& state) override;
  void event(const Event& event, const ModalState& state) override;

 private:
  std::array<bool, 3> placed_{};  // axes the program has named or moved
};

}  // namespace proveout::nc
