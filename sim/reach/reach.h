// Which of the part's surface each setup and tool can reach, and the stick-out that takes; from the
// part's mesh and the tool list, without a program. Resolved to a step of the height map.
#pragma once

#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/job/job.h"
#include "parser/mesh/mesh.h"

namespace proveout::reach {

struct ToolReach {
  int number = 0;
  std::string name;
  double diameter = 0;             // mm
  double stickout = 0;             // mm, as given
  double reached_mm2 = 0;          // whatever the stick-out
  double reached_as_set_mm2 = 0;   // with the stick-out given
  double stickout_needed = 0;      // mm, for all it reaches
  double largest_for_mm2 = 0;      // where no larger tool of the list reaches
  double stickout_there = 0;       // mm, needed in that region
  bool fits_inside_radius = true;  // its radius is no more than the setup's least inside radius
  Vec3 deepest_at = Vec3::Zero();  // stock coordinates: where stickout_needed is met
};
struct SetupReach {
  std::string name;
  double seen_mm2 = 0;                   // lies open along the tool axis
  double reached_mm2 = 0;                // by some tool, whatever the stick-out
  double too_tight_mm2 = 0;              // seen, and no tool fits
  bool inside_corner = false;            // it sees an upright inside corner or fillet
  double inside_radius = 0;              // mm, the least of those; 0: sharp
  Vec3 inside_radius_at = Vec3::Zero();  // stock coordinates
  std::vector<ToolReach> tools;          // as in the job
};
// A small patch of the part's surface and what each tool of each setup takes to touch it.
struct PatchReach {
  Vec3 at = Vec3::Zero(), outward = Vec3::Zero();  // stock coordinates
  double area = 0;                                 // mm2
  bool seen = false;                               // some setup's axis sees it
  bool own_face = false;                           // no tool reaches it, and none need: the blank's
  std::vector<double> stickout;  // mm, setups' tools one after the other; negative: not reached
};
struct Reach {
  double step = 0;           // mm, of the height maps
  double surface_mm2 = 0;    // of the part
  double undercut_mm2 = 0;   // no setup sees it, and it is no face of the blank's own
  double too_tight_mm2 = 0;  // some setup sees it, no tool fits; as above
  Vec3 undercut_at = Vec3::Zero(),
       too_tight_at = Vec3::Zero();  // stock coordinates: one such place
  std::vector<SetupReach> setups;
  std::vector<PatchReach> patches;  // where asked for
};

// part: stock coordinates. step: mm; 0: an eighth of the smallest tool diameter, coarser where the
// map would pass 4 million points. Ball, bull, taper, vee, drill and form tools with their own
// profile; the shank and each cylinder of the holder as upright cylinders. Drills reach the bores
// of their own diameter (to a step), at least half as deep, and nothing else.
Reach reach(const job::Job& job, const mesh::Mesh& part, double step = 0,
            bool keep_patches = false);

}  // namespace proveout::reach
