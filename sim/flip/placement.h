// How well the walls of two sides would meet, had the blank lain otherwise for the later side.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/flip/stretch.h"

namespace proveout::flip {

// One way the blank could lie, or the later program could read.
struct Candidate {
  std::string name;       // in words: "turned about x"
  int quarter_turns = 0;  // about the machine's z, beside the declared placement, 0..3
  bool mirrored = false;  // the later program mirrored left to right, before those turns
  RigidMotion moved;      // plan: where the later side's cut lies, from where it does as declared;
                          // linear part with determinant -1 where mirrored
};

struct Placement {
  std::string name;
  int quarter_turns = 0;
  bool mirrored = false;
  bool declared = false;
  double apart = 0;  // mm: mean distance from the later side's walls to those they should continue,
                     // each at most farthest
  double met = 0;    // share of the compared wall that lies within the distance that counts as met
  std::optional<double> from_part;  // mm: mean distance of the later side's surface from the part,
                                    // each at most farthest; nullopt: no part, or nothing on it
};

inline constexpr double farthest = 5;  // mm: beyond it one wall is as far as another
// mm of height: two walls with more material than this between them do not continue each other.
inline constexpr double thickest_web = 2;

// Signed distance (mm, along the walls' mean normal) by which the later wall stands proud of the
// earlier one, both taken half way between their edges; nullopt: none within farthest continues it.
struct Continued {
  double step = 0;
  std::size_t earlier = 0;  // index of the stretch it continues
};

// Finds the earlier stretch that a later one continues. Built once, asked often.
class EarlierWalls {
 public:
  explicit EarlierWalls(std::vector<Stretch> stretches);
  std::optional<Continued> continued(const Stretch& later) const;
  const std::vector<Stretch>& stretches() const { return stretches_; }
  bool empty() const { return stretches_.empty(); }
  // mm, plan: the lowest edge of all.
  double lowest_edge() const;

 private:
  std::vector<Stretch> stretches_;
  double x0_ = 0, y0_ = 0;
  int columns_ = 0, rows_ = 0;
  std::vector<std::vector<std::size_t>> bins_;
};

struct Match {
  std::vector<Placement> placements;  // as the candidates
  std::size_t compared = 0;           // stretches that find a wall under one placement at least
  double met_within = 0;              // mm: what counts as met
};

// candidates[0] must be the declared placement. fine: mm, least distance that counts as met.
// Only stretches that find a wall within met_within under at least one candidate are compared: the
// far side of a slot continues nothing however the blank lies. compared is 0 unless by one way of
// lying a quarter of the later walls, facing three ways, meet within 2 fine; or six tenths further
// off, by steps that one shift accounts for.
Match match(const EarlierWalls& earlier, const std::vector<Stretch>& later,
            const std::vector<Candidate>& candidates, double fine);

Stretch moved(const Stretch& stretch, const RigidMotion& plan_motion);

}  // namespace proveout::flip
