// A tool body swept along one motion, as the distance kernels want it: single precision, relative
// to a local origin near the voxels concerned.
//
// Notation: rho is the horizontal distance from the tool's axis, h the height above the body's
// foot. Rounded profiles (flat, bull, ball, cylinders) are a cylinder of radius core with its rim
// rounded by corner; polygons are any other meridian. Distances outside are exact for rounded
// profiles and beside faces, and never too large; inside they are never too deep but by
// second-order terms.
#pragma once

#include <cstdint>
#include <vector>

#include "parser/base/geometry.h"
#include "parser/nc/motion.h"
#include "sim/solid/tool_body.h"

namespace proveout::stock {

enum class ProfileShape : std::uint8_t {
  sharp,    // a plain cylinder
  rounded,  // a cylinder with a rounded rim at its foot
  convex,   // straight sides, no hollow
  polygon   // anything else
};

// A straight side of the meridian from foot to top, mm, and its outward normal.
struct ProfileEdge {
  float r0 = 0, h0 = 0, r1 = 0, h1 = 0;
  float nr = 0, nh = 0;
};

struct Profile {
  ProfileShape shape = ProfileShape::sharp;
  bool widens_upwards = true;      // no undercut: a plunge sweeps the lowest body, made taller
  float core = 0;                  // mm, rounded: radius less corner
  float corner = 0;                // mm, rounded
  float base = 0;                  // mm, height of the foot above the tip
  float top = 0;                   // mm, height above the foot
  float largest_radius = 0;        // mm
  std::vector<ProfileEdge> edges;  // convex, polygon: without the axis; as many as the body has

  // Radius of the body at height h above the foot, mm; 0 outside.
  float radius_at(float h) const;
};

Profile make_profile(const solid::Body& body);

enum class SweepKind : std::uint8_t {
  level_line,  // constant height, straight; also plunges and standing still
  level_arc,   // constant height, circular in xy
  ball_ramp,   // straight, up or down, rounded with core 0
  ramp,        // straight, up or down, any profile
  table        // any curve, as closely spaced poses with parabolas between
};

// One motion of one body. Double precision, setup frame.
struct Sweep {
  const nc::Motion* motion = nullptr;
  const Profile* profile = nullptr;
  SweepKind kind = SweepKind::level_line;
  Box3 box;                 // of the swept body, setup frame
  double length = 0;        // mm along the path
  std::vector<Vec3> poses;  // table: tip positions, evenly spaced along the path
};

Sweep make_sweep(const nc::Motion& motion, const Profile& profile);

// Level arc, relative to an origin; mm.
struct LocalArc {
  float qx = 0, qy = 0, nx = 0, ny = 0,
        curvature = 0;                     // a point on it, outward normal there, 1/radius
  float sx = 0, sy = 0, stx = 0, sty = 0;  // start, tangent there
  float ex = 0, ey = 0, etx = 0, ety = 0;  // end, tangent there
  bool full = false, long_arc = false;     // a full turn; more than half a turn
};

// Relative to an origin; all mm.
struct LocalSweep {
  SweepKind kind = SweepKind::level_line;
  Profile const* profile = nullptr;
  float top = 0;                 // profile's top, stretched by a plunge
  float ax = 0, ay = 0, az = 0;  // line: foot at the start (az: lowest, for level kinds)
  float ux = 1, uy = 0;          // line: horizontal direction
  float run = 0, rise = 0;       // line: horizontal length and height gained
  float length = 0;              // of the path
  float voxel = 0;
  LocalArc arc;
  float near = 0, probe = 0;  // ramp, table: depth and step for turning values into distances
  int poses = 0;              // table
  std::vector<float> px, py, pz;
  std::vector<int> near_poses;  // those that matter within reach of the origin
};

// voxel: mm, of the grid the distances are for. Distances are right within a tile (32 voxels) about
// the origin.
void localise(const Sweep& sweep, const Vec3& origin, double voxel, LocalSweep& local);

// Where along its path, and on which side, a sweep first touches a point of its swept body.
struct FirstTouch {
  float along = 0;        // mm of path from the start
  float height = 0;       // mm above the body's foot
  float left = 0;         // mm from the axis, across the feed, positive to the left
  float ahead = 0;        // mm from the axis along the feed
  bool plunging = false;  // the feed has no horizontal direction
};
// Of a plunge, an arc or a curve; other straight motions are the kernels' (Kernels::touches).
// point: setup frame.
FirstTouch first_touch(const Sweep& sweep, const Vec3& point);

// left / (|left| + ahead), ahead no less than 0; grows with the angle from the feed direction,
// -1..1. For a plunge it goes on behind to -2..2.
float bearing_of(const FirstTouch& touch);
double degrees_of_bearing(double bearing);

}  // namespace proveout::stock
