// What an NC program asks for once every modal word is resolved: motions, and the events between
// them.
//
// Frame: the setup frame. Its origin is the setup's zero (where G54 lies unless the job says
// another offset), its axes are the machine's. The point that moves is the tool tip; tool length
// offsets are taken as measured right, so they do not shift motions here.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "parser/base/geometry.h"

namespace proveout::nc {

enum class PathKind : std::uint8_t { rapid, line, arc };  // line and arc run at the feed

// The plane of an arc or cycle. Its normal: xy +z, zx +y, yz +x; positive turn is right-handed
// about it.
enum class Plane : std::uint8_t { xy, zx, yz };

// The axes of a plane, 0 to 2 for x to z: a positive turn goes from first to second.
struct PlaneAxes {
  int first, second, normal;
};
PlaneAxes axes_of(Plane plane);

enum class SpindleTurn : std::uint8_t { stopped, clockwise, counter_clockwise };  // M5, M3, M4
enum class PathControl : std::uint8_t { exact_path, exact_stop, continuous };     // G61, G61.1, G64

// State that changes seldom; motions point into a table of these.
struct ModalState {
  int tool = 0;            // number of the tool in the spindle, 0: none named yet
  int length_offset = 0;   // H in force, 0: none
  double spindle_rpm = 0;  // S word, 1/min
  SpindleTurn turn = SpindleTurn::stopped;
  bool mist = false;
  bool flood = false;
  PathControl path_control = PathControl::continuous;
  double path_tolerance = -1;  // mm, G64 P; negative: the machine's own
  int work_offset = 1;         // 1..9 = G54..G59.3

  friend bool operator==(const ModalState&, const ModalState&) = default;
};

struct Motion {
  Vec3 start = Vec3::Zero();   // mm, setup frame
  Vec3 end = Vec3::Zero();     // mm, setup frame
  Vec3 centre = Vec3::Zero();  // arcs: mm, setup frame, in the plane through start; else unused
  double sweep = 0;  // arcs: rad, signed right-handed about the plane's normal; full turns count
  double feed = 0;   // mm/min along the path as commanded (G93 and G95 resolved); 0 on rapids
  std::uint32_t line = 0;   // 1-based, in file
  std::uint32_t file = 0;   // index into Program::files
  std::uint32_t state = 0;  // index into Program::states
  std::uint32_t chain =
      0;  // index into Program::chains: the subprogram calls this line was reached by; 0: none
  PathKind kind = PathKind::rapid;
  Plane plane = Plane::xy;
  std::uint8_t axes_given = 0;  // bit by axis, x lowest: the block has its word
};

// Path length in mm, helices along the helix.
double length(const Motion& motion);
// Point on the path at fraction 0..1 of its length; setup frame, mm.
Vec3 point_at(const Motion& motion, double fraction);
// Unit tangent at fraction 0..1; zero vector for a motion of no length.
Vec3 tangent_at(const Motion& motion, double fraction);
// Radius of an arc about its axis at its start, mm.
double arc_radius(const Motion& motion);
// The tight axis-parallel box of the path, setup frame, mm.
Box3 bounds(const Motion& motion);

// Of the places at fractions k / steps of a motion, k from 0 to steps (>= 1), the first and last
// that may lie within a box (mm, setup frame); first > last: none. A straight way is cut short to a
// step, so that one from far away costs no more than what of it lies near; an arc counts whole.
struct StepRange {
  int first = 0, last = -1;
};
StepRange steps_within(const Motion& motion, int steps, const Box3& box);

enum class EventKind : std::uint8_t {
  tool_change,  // M6; value = tool number now in the spindle
  spindle,      // M3 M4 M5 or a new S while turning; see state after
  dwell,        // value = seconds
  stop,         // M0 M1 M60
  program_end,  // M2 M30 or end of the file
  message,      // text = operator message
  coolant
};

struct Event {
  EventKind kind = EventKind::message;
  std::uint32_t line = 0;
  std::uint32_t file = 0;
  std::uint32_t state = 0;  // modal state after the event
  std::uint64_t before_motion =
      0;  // index of the motion it precedes (== motions.size(): after the last)
  double value = 0;
  std::string text;
};

}  // namespace proveout::nc
