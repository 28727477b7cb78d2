// A tool as surfaces of revolution about its axis, tip at height 0, holder upwards.
#pragma once

#include <cstdint>
#include <vector>

#include "parser/job/job.h"

namespace proveout::solid {

enum class Role : std::uint8_t { flutes, shank, holder };

// One corner of the meridian: radius from the axis and height above the tip, mm.
struct ProfilePoint {
  double radius = 0;
  double height = 0;
};

// A segment of the meridian between two heights: a straight line, or a circular arc about centre
// (convex, bulging outwards).
struct ProfileSegment {
  ProfilePoint from, to;
  bool is_arc = false;
  ProfilePoint centre;
  double arc_radius = 0;
};

struct Body {
  Role role = Role::flutes;
  std::vector<ProfileSegment>
      meridian;                // from the axis (or the body's underside) up and back to the axis
  double bottom = 0, top = 0;  // heights, mm
  double largest_radius = 0;   // mm
};

struct ToolBody {
  int number = 0;
  job::ToolShape shape = job::ToolShape::flat;
  Body flutes;               // the cutting part
  std::vector<Body> shank;   // none or one
  std::vector<Body> holder;  // cylinders from the holder's face up
  double diameter = 0;       // mm
  bool centre_cutting = true;

  // Radius of the cutting part at a height above the tip, mm; 0 outside it.
  double cutting_radius(double height) const;
};

// The body a job's tool describes. The tool must have passed read_job's checks.
ToolBody make_tool_body(const job::Tool& tool);

}  // namespace proveout::solid
