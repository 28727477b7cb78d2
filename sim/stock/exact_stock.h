// The stock without a grid: blank minus the union of the swept bodies, by the motions' own
// distances. With b the blank's signed distance and d_m that of motion m's swept body,
//     f(x) = max( b(x), max over m of -d_m(x) )
// is negative in material, and its zero is the stock's surface exactly. Every term is 1-Lipschitz,
// so |f(x)| is never more than the distance to the surface (sphere tracing; Hart, "Sphere
// tracing", The Visual Computer 12 (1996) 527-545).
//
// Which motions matter within a cell (middle c, half diagonal r) follows from the same bound:
//     { m : d_m(c) <= -f(c) + 2 r }
// Lists are complete: no motion is left out that could make the surface there, however near
// passes lie. They are made from tiles of some millimetres and culled from cell to smaller cell.
//
// Pieces taken away and what is sawn off by hand are no motions: the caller knows of them.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "sim/solid/face_tree.h"
#include "sim/stock/stock.h"
#include "sim/stock/swept_distance.h"

namespace proveout::stock {

struct SetupMotions {
  std::span<const nc::Motion> motions;
  std::vector<ToolRun> tools;
  RigidMotion stock_from_setup = RigidMotion::Identity();
  MotionId first_id = 1;  // of motions[0]
};

// The blank before any cut: a box, or the closed mesh where one is given.
struct BlankShape {
  Box3 box;                               // mm, stock coordinates
  const solid::FaceTree* mesh = nullptr;  // stock coordinates; nullptr: the box
  double at(const Vec3& point) const;     // mm, negative inside
};

// All motions of a job by where they are. Unchanging once made; any number of threads may read it.
class ExactStock {
 public:
  // What setups and tools point to must outlive this. region: mm, stock coordinates; nothing is
  // asked outside it. tile: edge in mm, > 0, of the tiles motions are kept by.
  ExactStock(const BlankShape& blank, std::span<const SetupMotions> setups, const Box3& region,
             double tile);
  ~ExactStock();
  ExactStock(const ExactStock&) = delete;
  ExactStock& operator=(const ExactStock&) = delete;

  const BlankShape& blank() const { return blank_; }
  std::size_t setups() const { return setups_.size(); }

 private:
  friend class NearMotions;
  struct Setup {
    SetupMotions given;
    RigidMotion setup_from_stock;
    std::vector<const Profile*> profiles;  // by tool use
  };
  const Profile* profile_of(const Setup& setup, std::size_t motion) const;
  std::array<int, 3> tile_of(const Vec3& at) const;
  std::size_t number(int x, int y, int z) const;
  template <class Each>
  void for_tiles(const Setup& setup, std::size_t motion, Each each) const;

  BlankShape blank_;
  std::vector<Setup> setups_;
  std::vector<std::pair<const solid::ToolBody*, std::unique_ptr<Profile>>> profiles_;
  Vec3 low_;
  double tile_;
  std::array<int, 3> count_{};
  // By tile: motions [first_[t], first_[t + 1]) of ids_, by number over all setups, rising.
  std::vector<std::uint64_t> first_;
  std::vector<std::uint32_t> ids_;
  std::vector<std::uint32_t> setup_start_;  // number of each setup's first motion
};

// A motion a cell may meet: its place in NearMotions, and its distance at the cell's middle.
struct Candidate {
  std::uint32_t motion = 0;
  float distance = 0;  // mm
};

// The motions about one box, ready to be asked. One per thread, loaded box after box.
class NearMotions {
 public:
  explicit NearMotions(const ExactStock& stock);
  // Those that could make the surface within the box (mm, stock coordinates).
  void load(const Box3& box);
  std::size_t size() const { return entries_.size(); }

  // f at a cell's middle, and of the motions given those that matter within reach (mm) of it.
  // by: the motion whose distance f is, none: the blank, or nothing near.
  static constexpr std::uint32_t none = ~0u;
  double cull(std::span<const Candidate> from, const Vec3& middle, double reach,
              std::vector<Candidate>& to, std::uint32_t* by = nullptr);
  // All that are loaded, for the first cull.
  std::span<const Candidate> all() const { return all_; }
  // f where the motions given are all that matter.
  double value(std::span<const Candidate> motions, const Vec3& at, std::uint32_t* by = nullptr);
  // The same, of motions culled at a place `moved` (mm, >= 0) from there: those are not asked whose
  // distance, which changes by no more than the way, says that f is another's.
  double value_beside(std::span<const Candidate> motions, double moved, const Vec3& at,
                      std::uint32_t* by = nullptr);

  double distance(std::uint32_t motion, const Vec3& at) const;
  // Slope in stock coordinates.
  Nearness near(std::uint32_t motion, const Vec3& at) const;
  // SweptDistance::faces_near, slopes in stock coordinates.
  void faces_near(std::uint32_t motion, const Vec3& at, std::vector<Nearness>& to) const;
  // Points of the swept body at corners of the tool's outline, where it stands nearest to a place
  // and turned towards it; stock coordinates.
  void rims(std::uint32_t motion, const Vec3& at, std::vector<Vec3>& to) const;
  // Where the tool's tip stands nearest to a place; mm, stock coordinates.
  Vec3 nearest_tip(std::uint32_t motion, const Vec3& at) const;
  // Of the tool's flutes with the tip there, the point furthest along a direction (unit), at the
  // height of `at` where many are; of a hollow form of its convex hull. Stock coordinates.
  Vec3 foremost(std::uint32_t motion, const Vec3& tip, const Vec3& direction, const Vec3& at) const;
  const Profile& profile(std::uint32_t motion) const { return entries_[motion].swept.profile(); }
  std::uint32_t setup(std::uint32_t motion) const { return entries_[motion].setup; }
  const nc::Motion& motion(std::uint32_t motion) const { return entries_[motion].swept.motion(); }
  MotionId id(std::uint32_t motion) const { return entries_[motion].id; }
  // The motion with this number, none where it is not among those loaded.
  std::uint32_t find(MotionId id) const;
  // mm: the swept body is a union of balls of this radius, but for what lies above them; 0: it has
  // edges.
  double round_radius(std::uint32_t motion) const;
  // No more than the distance (mm) from a place to the swept body.
  double box_distance(std::uint32_t motion, const Vec3& at) const;

 private:
  struct Entry {
    SweptDistance swept;
    std::uint32_t setup;
    MotionId id;
  };
  const ExactStock& stock_;
  std::vector<Entry> entries_;
  std::vector<Candidate> all_;
  std::vector<Vec3> in_setup_;  // the point asked for, by setup
};

}  // namespace proveout::stock
