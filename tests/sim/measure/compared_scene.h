// A blank, what is cut from it, and the part it should be: for tests of the comparison. Everything
// may be turned as a whole against the grid.
#pragma once

#include <initializer_list>
#include <memory>
#include <span>
#include <utility>
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

// A box that tools cut, one setup after the other: as a grid, and by the motions' own distances.
// What is cut with must outlive it.
class MilledBlank {
 public:
  // low, high: before the turn.
  MilledBlank(const Vec3& low, const Vec3& high, const RigidMotion& turn, double voxel)
      : straight_(turn.matrix().isIdentity(0) && low.isZero(0)),
        mesh_(turned(box_mesh(low, high), turn)),
        faces_(mesh_),
        cut_(straight_ ? stock::Stock::box(high, voxel)
                       : stock::Stock::mesh(mesh_.vertices, mesh_.triangles, voxel)) {}
  MilledBlank(const MilledBlank&) = delete;
  MilledBlank& operator=(const MilledBlank&) = delete;

  // tools: each with the motion before which it is changed.
  void mill(std::span<const nc::Motion> motions, const RigidMotion& stock_from_setup,
            std::initializer_list<std::pair<const job::Tool&, std::size_t>> tools) {
    stock::SetupMotions one{motions, {}, stock_from_setup, next_};
    std::size_t first = 0;
    for (const auto& [tool, last] : tools) {
      if (last == first) continue;
      bodies_.push_back(std::make_unique<solid::ToolBody>(solid::make_tool_body(tool)));
      one.tools.push_back({first, last, bodies_.back().get()});
      first = last;
    }
    cut_.cut(motions, one.tools, stock_from_setup, next_, {});
    next_ += static_cast<stock::MotionId>(motions.size());
    setups_.push_back(std::move(one));
  }

  stock::Stock& cut() { return cut_; }
  stock::ExactStock exact() const {
    const Box3 region = mesh::bounds(mesh_);
    const Vec3 margin = Vec3::Constant(1);
    return {{region, straight_ ? nullptr : &faces_},
            setups_,
            Box3(region.min() - margin, region.max() + margin),
            comparison_tile_voxels * cut_.voxel()};
  }

 private:
  bool straight_;
  mesh::Mesh mesh_;
  solid::FaceTree faces_;
  stock::Stock cut_;
  std::vector<std::unique_ptr<solid::ToolBody>> bodies_;
  std::vector<stock::SetupMotions> setups_;
  stock::MotionId next_ = 1;
};

struct Compared {
  TwoWay found;
  double volume = 0;       // of the stock left, by the grid
  double mesh_volume = 0;  // of the part
};

inline Compared compare_scene(const Scene& s) {
  const solid::PartDistance part(turned(s.part, s.turn));
  MilledBlank blank(s.blank_low, s.blank_high, s.turn, s.voxel);
  for (const ToolPasses& p : s.passes) blank.mill(p.motions, s.turn, {{p.tool, p.motions.size()}});
  stock::Stock& cut = blank.cut();
  if (!s.sawn.empty()) take_supports_off(cut, s.sawn, part.faces());
  keep_one_piece(cut, &part);
  const stock::ExactStock exact = blank.exact();
  Compared out;
  out.found =
      compare_two_ways({exact, cut, part.faces(), s.gouge_tolerance, s.excess_tolerance, s.sawn});
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
