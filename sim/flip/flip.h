// What is said of a pair of sides: does the declared placement of the blank win, and by how much.
#pragma once

#include <string>
#include <vector>

#include "sim/flip/best_fit.h"
#include "sim/flip/placement.h"
#include "sim/flip/seam.h"
#include "sim/flip/spread.h"
#include "sim/solid/part_distance.h"

namespace proveout::flip {

enum class Decision {
  declared,     // the walls, or the part, match best as declared
  cannot_tell,  // another way to lay the blank down matches as well
  other,        // another placement, or a mirrored program, matches better
  undecided     // the sides have no wall in common, and no part tells
};

struct Flip {
  std::string earlier, later;  // names of the setups
  Decision decision = Decision::undecided;
  std::string text;  // what was found, one sentence without a full stop; why not, where undecided
  std::vector<Placement> placements;  // the declared one first
  std::size_t best_other = 0;         // index of the other placement that matches best; 0: none
  double margin = 0;          // mm by which the declared placement beats it; negative: loses
  double by_part_margin = 0;  // mm, the same of the distances from the part
  double compared_mm = 0;     // length of wall compared, about
  double met_within = 0;      // mm: walls this near count as met
  BestFit best_fit;           // of the later side's walls against the part, where one is given
  Seam seam;                  // as declared; no points where the sides meet nowhere
  Spread spread;              // of the seam, where there is one
};

// Fills from_part of each placement: where the later side's surface would lie against the part.
// later: samples of it, stock coordinates, as declared. fine: mm, as in match().
void match_part(std::vector<Placement>& placements, const std::vector<Candidate>& candidates,
                std::span<const measure::SurfaceSample> later, const RigidMotion& plan_from_stock,
                const solid::PartDistance& part, double fine);

// Judges the placements: fills decision, best_other, margins and text. tell: mm, a smaller
// difference tells nothing.
void judge(Flip& flip, double tell);

}  // namespace proveout::flip
