// The seam: the line where walls that the earlier side left are continued by the later one, the
// step between them along it, and what is left uncut, or cut twice, between the two sides.
#pragma once

#include <map>
#include <span>
#include <vector>

#include "parser/nc/program.h"
#include "sim/flip/placement.h"
#include "sim/measure/height_map.h"
#include "sim/solid/tool_body.h"

namespace proveout::flip {

struct SeamPoint {
  Vec3 at = Vec3::Zero();       // mm, stock coordinates, half way between the two walls' edges
  Vec2 outward = Vec2::Zero();  // plan
  Vec2 place = Vec2::Zero();    // mm, plan
  double step = 0;              // mm, > 0: the later wall stands proud of the earlier one
  double overlap = 0;           // mm of height cut from both sides; negative: a web left uncut
  stock::MotionId by = 0;       // made the later wall here
  stock::MotionId by_earlier = 0;
};

// How the steps read: the later side's cut lies so far off the earlier one's, in the later setup's
// machine axes. Least squares over the seam of step = outward . (shift + turn x r + shear); what
// the walls do not show (no wall faces that way) is 0.
struct Reading {
  double x = 0, y = 0;           // mm
  double turn_deg = 0;           // about the seam's middle, right-handed about the machine's z
  double out_of_square_100 = 0;  // mm over 100 mm, by which x leans along y between the sides:
                                 // twice the machine's own error, as turning the work reverses it
  double left = 0;               // mm, root mean square of what this does not explain
};

struct Seam {
  double length_mm = 0;              // about
  double worst = 0, mean = 0;        // mm, of the steps' sizes
  double proudest = 0, deepest = 0;  // mm: largest and smallest step, signed
  std::size_t worst_point = 0;       // index into points
  double least_overlap = 0;          // mm, along the seam; negative: a web
  double web_mm = 0;                 // about: length of seam with a web left under the tools
  std::size_t web_point = 0;         // index into points: where the overlap is least
  Reading reading;
  std::vector<SeamPoint> points;  // in order along the seam, as far as it hangs together
};

struct SeamInputs {
  const EarlierWalls& earlier;
  std::span<const Stretch> later;
  RigidMotion stock_from_plan;
  RigidMotion stock_from_later;
  double met_within = 0.5;            // mm: larger steps are not taken for a seam
  double cell = 1;                    // mm of wall a stretch stands for
  const measure::HeightMap& left;     // what the earlier side left, plan
  const measure::HeightMap& reached;  // reach_map() of the later program, same cells
  std::span<const Box3> supports;     // stock coordinates: walls there are no part of the seam
};
Seam seam(const SeamInputs& inputs);

// How far up, in plan, the cutters of a program come over each cell of `cells`; -1e9 where they do
// not come. plan_from_later: the plan's z runs against the later setup's.
measure::HeightMap reach_map(const nc::Program& program,
                             const std::map<int, solid::ToolBody>& bodies,
                             const RigidMotion& plan_from_later, const measure::HeightMap& cells);

}  // namespace proveout::flip
