// One tile of the search for cusps and steps. Needs OpenVDB; for the .cpp files of this room.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "sim/measure/finish.h"
#include "sim/stock/distance_reader.h"

namespace proveout::measure {

// An edge in one voxel.
struct FinishEdge {
  openvdb::Coord voxel;
  Vec3 at = Vec3::Zero();     // mm, on the edge
  Vec3 along = Vec3::Zero();  // unit, its direction
  double length = 0;          // mm, within the voxel
  double height = 0;          // mm
  std::array<double, finish_heights.size()> area{};
  stock::MotionId first = 0, second = 0;
  FinishBetween between = FinishBetween::passes;
  bool step = false;
};

class FinishTile {
 public:
  explicit FinishTile(const FinishInput& input);
  // Of the tile of comparison_tile_voxels whose lowest voxel this is, in the voxels' order.
  std::vector<FinishEdge> look(const openvdb::Coord& origin);

 private:
  struct Sheet {  // one smooth face of one motion's swept body
    std::uint32_t motion = 0;
    int face = -1;              // of SweptDistance::faces_near; -1: of a body without edges
    double distance = 0;        // mm, at the voxel's middle
    Vec3 slope = Vec3::Zero();  // out of the body
    double curvature = 0;       // 1/mm
  };
  // Both tools where they touch an edge. outward: unit, from the material into each tool.
  struct Meeting {
    Vec3 at = Vec3::Zero();
    std::array<std::uint32_t, 2> motion{};
    std::array<bool, 2> edged{};
    std::array<Vec3, 2> outward, tip;
  };
  struct Height {
    double above_plane = 0, told = 0;  // mm
    double turn = 0, share = 0;        // rad between the outward slopes; of it, to the plane's
    bool step = false;
  };

  void leaf(const openvdb::Coord& origin);
  void voxel(const openvdb::Coord& at);
  void add_sheets(std::uint32_t motion, const Vec3& middle);
  double value_of(const Sheet& sheet, const Vec3& at, Vec3& slope);
  bool may_show(const Sheet& a, const Sheet& b) const;
  bool meet(const Sheet& a, const Sheet& b, const Vec3& middle, Meeting& found);
  void consider(const openvdb::Coord& voxel, const Meeting& found);
  bool on_surface(const Meeting& found);
  void list_about(const Vec3& at);
  bool cut_by_another(const Meeting& m);
  bool near_passes(const Vec3& tip, const Vec3& other) const;
  FinishBetween between(const Meeting& m, bool step) const;
  bool follow_on(const Meeting& m) const;
  Vec3 turned(const Meeting& m, double turn) const;
  Vec3 valley(const Meeting& m, int which, const Vec3& outward) const;
  Height height_of(const Meeting& m) const;
  bool part_turns(const Meeting& m, double off, double turn) const;
  bool over_part(const Meeting& m, Height& h) const;
  void add_areas(const Meeting& m, const Height& h, FinishEdge& edge) const;
  bool sawn_off(const Vec3& at) const;

  const FinishInput& in_;
  const stock::Stock::Fields& fields_;
  double h_;
  stock::DistanceReader grid_;
  openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> provenance_;
  stock::NearMotions near_;
  bool loaded_ = false;
  openvdb::Coord tile_;
  std::array<stock::MotionId, 1000> ids_{};  // of the leaf and one voxel about it
  std::vector<stock::Candidate> leaf_list_;  // complete, of the leaf
  std::array<std::vector<stock::Candidate>, 8> eighth_lists_;
  std::array<bool, 8> eighth_listed_{};
  bool leaf_listed_ = false;
  const std::vector<stock::Candidate>* list_ = nullptr;  // of the place last asked about
  openvdb::Coord leaf_;
  std::vector<std::uint32_t> motions_;               // of the voxel
  std::uint32_t missed_ = stock::NearMotions::none;  // cut an edge away and was not among them
  std::vector<Sheet> sheets_;
  std::vector<stock::Nearness> faces_;
  std::vector<FinishEdge> out_;
};

}  // namespace proveout::measure
