// What the errors a job declares do to the seam and to the material between the two sides: drawn at
// random with a seed, and one at a time.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "parser/job/job.h"
#include "sim/flip/seam.h"

namespace proveout::flip {

// One error at full size, alone: how much the step then changes where it changes most.
struct Alone {
  std::string what;   // "0.1 mm in x", in words
  double amount = 0;  // mm; over 100 mm for squareness
  double step = 0;    // mm
};

struct Spread {
  std::vector<Alone> each;  // 0.1 mm of zero in x and y always, then the errors declared
  // Below: only where errors are declared, draws > 0.
  int draws = 0;
  std::uint64_t seed = 0;
  double median_worst = 0, high_worst = 0;  // mm: the seam's worst step, half and 95 % of draws
                                            // lie below
  bool has_web = false;  // some material lies between cuts from both sides: floors and walls, web.h
  double least_web = 0;  // mm, as programmed
  double low_web = 0;    // mm: in 95 % of draws the least web is thicker
  double break_through = 0;  // share of draws in which a web is cut through, 0..1
};

struct SpreadInputs {
  const job::Setup& earlier;
  const job::Setup& later;
  RigidMotion plan_from_later;
  Vec2 middle;  // of the block, plan: turns and shears are about it
  const Seam& seam;
  const measure::HeightMap& left;  // as in SeamInputs
  const measure::HeightMap& reached;
  int draws = 500;
  std::uint64_t seed = 1;
};

// Errors are drawn evenly within their limits (choice: nothing else is declared), pins evenly in
// the clearance's circle. Which side an error moves:
// - a zero on what earlier setups milled follows their cut: only its own error counts;
// - blanks on pins share one zero: its error moves both sides, and turning reverses it across the
//   turning axis (2 e) and cancels it along;
// - else each setup's zero is off by its own amount;
// - a machine out of square leans both sides; turning reverses it (2 s y);
// - pins: shift of half the clearance, turn of clearance over distance, each setup for itself.
Spread spread(const SpreadInputs& inputs);

}  // namespace proveout::flip
