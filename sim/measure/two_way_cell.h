// One tile of the comparison of stock and part: cells from eight voxels down to a quarter of one.
// Needs OpenVDB; for the .cpp files of this room.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <unordered_map>
#include <vector>

#include "sim/measure/two_way.h"
#include "sim/stock/distance_reader.h"

namespace proveout::measure {

inline constexpr double root3 = 1.7320508075688772;
inline constexpr double on_surface = 1e-6;  // mm
// Cosine of half the angle between two faces from which on their edge shows in the grid's slopes
// (choice: 20 degrees).
inline constexpr double one_face = 0.985;

// What surface a bin holds: one that motions made, the blank's own, or none; beside: volumes of
// voxels in which nothing lies beyond tolerance, which count where they are beside a region.
enum class BinSort : std::uint8_t { cut, uncut, inside, beside };

// A cell of four voxels with something beyond tolerance.
struct DeviationBin {
  openvdb::Coord place;  // voxel index over four, rounded down
  BinSort sort = BinSort::cut;
  double volume_mm3 = 0, area_mm2 = 0;
  double depth = -1;  // mm, of the worst surface place; below 0: no surface here
  Vec3 at = Vec3::Zero();
  stock::MotionId by = stock::from_blank;
  bool passed = false;
};

struct TileDeviation {
  double gouge_mm3 = 0, excess_mm3 = 0, shared_mm3 = 0, surface_mm2 = 0, contradicted_mm3 = 0;
  double thin_mm3 = 0;
  double worst_gouge = 0, worst_excess = 0;
  Vec3 worst_gouge_at = Vec3::Zero(), worst_excess_at = Vec3::Zero();
  std::vector<DeviationBin> missing, left;  // by place, in the order found
  std::vector<Eigen::Vector3f> bare;        // places of the part's surface far from all stock
};

class TileJudge {
 public:
  explicit TileJudge(const TwoWayInput& input);
  static constexpr int tile_voxels = 32, leaf_voxels = 8;
  TileDeviation judge(const openvdb::Coord& origin);

 private:
  enum class Side : std::uint8_t { cut, inside, outside };
  struct Cell {
    Vec3 middle = Vec3::Zero();
    double half = 0;
    int depth = 0;  // 0: a leaf of eight voxels, 3: a voxel, 5: a quarter, 7: a sixteenth
    Side stock = Side::cut, part = Side::cut;
    double f = 0;
    std::uint32_t by = stock::NearMotions::none;
    solid::FaceTree::Nearest p;  // at p_at
    Vec3 p_at = Vec3::Zero();
    double apart = 2;  // how far the part's normals turn about the cell, see part_about
    // How far the normals of the part's faces in the cell lie from p.slope, 2: more than
    // most_turned; below 0: not asked yet, see turns_within.
    double turned = -1;
  };
  static constexpr int voxel_depth = 3, plain_depth = 5, finest_depth = 7;
  struct Sheet {  // one smooth piece of the stock's surface
    std::uint32_t motion = stock::NearMotions::none;
    int blank_face = -1;
    double value = 0;  // f as if there were no other, mm
    Vec3 slope = Vec3::Zero();
    double bend = 0;  // mm: how far f may lie below its plane within the cell
    double rise = 0;  // mm: or above it
    double curvature = 0;
  };
  struct LeafVoxel {  // of the leaf that is looked at
    int number = 0;   // in the leaf
    openvdb::Coord at;
    double f = 0;  // mm, by the grid
    stock::MotionId by = stock::from_blank;
    bool missing_possible = false;
  };
  struct EasyVoxel {  // one of which the grid's distance is enough
    int number = 0;
    openvdb::Coord at;
    double f = 0, p = 0;  // mm
    Vec3 stock_slope = Vec3::Zero(), part_slope = Vec3::Zero();
  };
  struct Deviation {  // of one voxel
    double gouge = -1, excess = -1;
    Vec3 gouge_at = Vec3::Zero(), excess_at = Vec3::Zero();
    std::uint32_t gouge_by = stock::NearMotions::none, excess_by = stock::NearMotions::none;
    double most_gouge = 1e9, most_excess = 1e9;  // no more than, mm
  };

  void leaf(const openvdb::Coord& origin, bool loaded);
  void cell(Cell c);
  void settle(Cell& c);
  void children(const Cell& c);
  void voxel(Cell& c);
  void small(Cell& c);
  void sort_motions();
  void cut_leaf(Cell leaf, const openvdb::Coord& origin);
  void part_about(Cell& c);
  bool turns_within(Cell& c, double most) const;
  bool part_plain(Cell& c) const;
  static constexpr double most_turned = 0.3;  // choice: beyond, a voxel's part is no height
  void leaf_voxel(const Cell& about, LeafVoxel& v);
  void set_hard(int number);
  bool easy(const Cell& about, const Cell& c, const LeafVoxel& v, EasyVoxel& e);
  Sheet sheet_named(stock::MotionId by, const Cell& c);
  Vec3 grid_slope(const openvdb::Coord& at) const;
  void add_easy(const EasyVoxel& e);
  void mark_sharp(const Cell& c, std::span<const stock::Candidate> from);
  bool asked_of(const Cell& c) const;
  void hard_cells(const Cell& c, const openvdb::Coord& low, int across);
  // What may lie off the part by more is looked into by the motions' distances.
  double looked_for(double tolerance) const {
    return std::clamp(tolerance, unresolved_voxels * h_, grid_enough());
  }
  // mm, choice: volumes are to be right as well, and low cusps lie under all of a sculpted face.
  double grid_enough() const { return std::max(unresolved_voxels * h_, std::min(0.1 * h_, 0.02)); }
  static constexpr double finest_column = 0.08;  // mm, choice
  bool agrees(const Cell& c);
  int even_axis(Cell& c);
  void add_columns(Cell& c, int axis);
  bool grid_tells(const Cell& c) const;
  bool one_face_along_part(const Cell& c);
  void add_middle(const Cell& c);
  void add_agreeing(const Cell& c);
  // What lies off the part by less is told by the grid or by the nearest place of a voxel's
  // surface.
  double told(double tolerance) const {
    return std::clamp(tolerance, unresolved_voxels * h_, told_voxels * h_);
  }
  static constexpr double told_voxels = 0.25;  // choice
  // The places of the part's surface that those of a cell are nearest to lie no further from the
  // one its middle is nearest to than this many half diagonals (choice: bent faces spread them a
  // little).
  static constexpr double beside = 1.25;
  // What counts as little within a voxel (choice).
  static constexpr double little_voxels = 0.05;
  // Whether the part's face in the ball about the cell is one plane, as far as was asked.
  static bool one_plane_in(const Cell& c) {
    return c.part == Side::cut && c.turned >= 0 && c.turned < 1e-9;
  }
  static double down_to(const Sheet& s, const Cell& c, double r);
  static double up_to(const Sheet& s, const Cell& c, double r);
  solid::FaceTree::OffPlane off_plane(const Cell& c, double r) const;
  void bounds(const Cell& c, double r, const solid::FaceTree::OffPlane& part, double& most_gouge,
              double& most_excess) const;
  bool middle_tells(const Cell& c) const;
  void add_uniform(const Cell& c, double share_of_stock, double share_of_part, double both);
  void add_surface(Cell& c, bool stock_plain);
  double stock_share(const Cell& c, double& mean, Vec3& slope);
  double part_share(Cell& c);
  bool look_at_sheets(const Cell& c);
  // How far (mm) a distance of that hollow (1/mm) may fall short of its plane within r.
  static double rise_of(double hollow, double r) {
    return hollow > 0 ? std::min(2 * r, 0.5 * r * r / std::max(1 / hollow - r, 1e-9)) : 0;
  }
  Sheet sheet_of(std::uint32_t motion, const Vec3& at, double half) const;
  void blank_sheets(const Cell& c, std::vector<Sheet>& to) const;
  double value_of(const Sheet& sheet, const Vec3& at, Vec3& slope) const;
  void features(Cell& c);
  void consider(const Cell& c, const Vec3& at);
  bool material_behind(const Cell& c, const Vec3& at);
  bool may_meet(const Cell& c, std::span<const Sheet* const> sheets) const;
  void meet(const Cell& c, std::span<const Sheet* const> sheets);
  void meet_all(const Cell& c);
  void climb(const Cell& c, bool missing);
  void record(const Cell& c, double gouge, double excess);
  void record_block(const Cell& c);
  struct Bins {
    std::vector<DeviationBin>& bins;
    std::unordered_map<std::uint64_t, int>& index;
  };
  DeviationBin& bin(const Bins& bins, const Vec3& at, BinSort sort);
  void keep(const Cell& c, double depth, const Vec3& at, std::uint32_t by, double volume,
            bool surface, bool missing);
  // Whether of the voxels along a face this one, whose middle lies so far from it (mm), stands for
  // voxel^2 of it: a hair aside, so that a face between voxels counts once.
  bool counts_once(double distance) const { return std::abs(distance - 1e-4 * h_) < 0.5 * h_; }
  bool sawn_off(const Vec3& at) const;
  int sawn_cell(const Cell& c) const;  // 0: no, 1: whole, 2: partly
  openvdb::Coord holding(const Vec3& at) const { return fields_.holding(at); }

  const TwoWayInput& in_;
  const stock::Stock::Fields& fields_;
  stock::DistanceReader grid_;
  stock::NearMotions near_;
  double h_;
  std::array<std::vector<stock::Candidate>, finest_depth + 1> lists_;
  std::vector<Sheet> sheets_;
  std::vector<Vec3> rims_;
  std::vector<Vec3> considered_;          // places of the voxel that were asked about
  std::vector<const Sheet*> matter_;      // of sheets_: those whose places may be the worst
  solid::FaceTree::OffPlane part_off_{};  // of the voxel
  openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> provenance_;
  std::vector<stock::Candidate> sharp_;  // with edges, or rounder than the grid sees
  double poke_ = 0;  // mm: how far a round body may reach below what the grid's middles show
  std::array<std::uint8_t, 512> hard_{};
  std::array<solid::FaceTree::Nearest, 512> part_at_;  // voxels' middles, face -1: not asked of
  bool hard_any_ = false, loaded_ = false;
  std::vector<EasyVoxel> easy_;
  std::vector<Sheet> blank_;
  std::vector<stock::Nearness> faces_;
  int last_face_ = -1;
  solid::FaceTree::Nearest last_;  // at last_at_
  Vec3 last_at_ = Vec3::Zero();
  TileDeviation out_;
  Deviation now_;
  double leaf_gouge_ = 0, leaf_excess_ = 0;  // worst of the leaf so far
  std::unordered_map<std::uint64_t, int> missing_index_, left_index_;
};

}  // namespace proveout::measure
