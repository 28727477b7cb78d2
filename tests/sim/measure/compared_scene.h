// A blank, what is cut from it, and the part it should be: for tests of the comparison. Everything
// may be turned as a whole against the grid.
#pragma once

#include <memory>
#include <vector>

#include "../stock/cutting_case.h"
#include "box_mesh.h"
#include "sim/measure/measure.h"
#include "sim/measure/supports_off.h"
#include "sim/measure/two_way.h"

namespace proveout::measure {

struct ToolPasses {
  job::Tool tool;
  std::vector<nc::Motion> motions;
};

struct Scene {
  Vec3 blank_low, blank_high;  // before the turn
  mesh::Mesh part;
  std::vector<ToolPasses> passes;
  double voxel = 0.2;
  double gouge_tolerance = 0.05, excess_tolerance = 0.05;
  RigidMotion turn = RigidMotion::Identity();
  std::vector<Box3> sawn{};  // not turned
};

inline mesh::Mesh turned(mesh::Mesh m, const RigidMotion& turn) {
  for (Vec3& v : m.vertices) v = turn * v;
  return m;
}

struct Compared {
  TwoWay found;
  double volume = 0;       // of the stock left, by the grid
  double mesh_volume = 0;  // of the part
};

inline Compared compare_scene(const Scene& s) {
  const bool straight = s.turn.matrix().isIdentity(0) && s.blank_low.isZero(0);
  const mesh::Mesh blank = turned(box_mesh(s.blank_low, s.blank_high), s.turn);
  const solid::PartDistance part(turned(s.part, s.turn));
  const solid::FaceTree blank_faces(blank), part_faces(part.mesh());
  stock::Stock cut = straight ? stock::Stock::box(s.blank_high, s.voxel)
                              : stock::Stock::mesh(blank.vertices, blank.triangles, s.voxel);
  std::vector<std::unique_ptr<solid::ToolBody>> bodies;
  std::vector<stock::SetupMotions> setups;
  stock::MotionId next = 1;
  for (const ToolPasses& p : s.passes) {
    bodies.push_back(std::make_unique<solid::ToolBody>(solid::make_tool_body(p.tool)));
    stock::SetupMotions one{p.motions, {{0, p.motions.size(), bodies.back().get()}}, s.turn, next};
    cut.cut(p.motions, one.tools, s.turn, next, {});
    next += static_cast<stock::MotionId>(p.motions.size());
    setups.push_back(std::move(one));
  }
  if (!s.sawn.empty()) take_supports_off(cut, s.sawn, part_faces);
  keep_one_piece(cut, &part);
  const Box3 region = mesh::bounds(blank);
  const stock::ExactStock exact(
      {region, straight ? nullptr : &blank_faces}, setups,
      Box3(region.min() - Vec3::Constant(1), region.max() + Vec3::Constant(1)), 32 * s.voxel);
  Compared out;
  out.found =
      compare_two_ways({exact, cut, part_faces, s.gouge_tolerance, s.excess_tolerance, s.sawn});
  out.volume = volume(cut);
  out.mesh_volume = mesh::mass_of(part.mesh()).volume;
  return out;
}

inline RigidMotion about(const Vec3& axis, double degrees) {
  return RigidMotion(Eigen::AngleAxisd(degrees / deg_per_rad, axis));
}

// Passes along x at these y, all at one height.
inline std::vector<nc::Motion> passes_along_x(double from, double to, double first, double last,
                                              double step, double z) {
  std::vector<nc::Motion> all;
  for (double y = first; y <= last + 1e-9; y += step)
    all.push_back(stock::line({from, y, z}, {to, y, z}));
  return all;
}

}  // namespace proveout::measure
