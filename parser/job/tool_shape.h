// The shapes of cutting ends: one table from which the job file's word, the keys a shape takes, its
// outline and its name in reports come.
#pragma once

#include <span>
#include <string_view>
#include <vector>

#include "parser/job/job.h"

namespace proveout::job {

// A cutting end's outline from the tip up: straight, or an arc about a centre, to a point. mm above
// the tip and from the axis.
struct OutlineStep {
  double radius = 0, height = 0;
  bool is_arc = false;
  double centre_radius = 0, centre_height = 0, arc_radius = 0;
};

enum class Asks : std::uint8_t { nothing, may, must };  // of a key

struct ToolShapeInfo {
  ToolShape shape;
  std::string_view word;   // in a job file
  std::string_view words;  // in reports
  bool mills;              // false: it only goes up and down
  Asks corner_radius, tip_diameter, tip_angle, profile;
  // Height of the round end, mm: the flutes must hold all of it.
  double (*round_end)(const Tool&);
  // From radius 0 at the height the first step starts from, to the top of the flutes, mm. The tool
  // must have passed read_job's checks.
  std::vector<OutlineStep> (*outline)(const Tool&, double top);
};

std::span<const ToolShapeInfo> tool_shapes();  // in the order of ToolShape
const ToolShapeInfo& info(ToolShape shape);

inline bool mills(const Tool& tool) { return info(tool.shape).mills; }

}  // namespace proveout::job
