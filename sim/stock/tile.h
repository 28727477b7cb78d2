// A 32^3 piece of the stock, laid out in the setup's directions, replaying its motions in time order.
#pragma once

#include <array>
#include <cstdint>
#include <mutex>
#include <span>
#include <vector>

#include "sim/stock/engagement.h"
#include "sim/stock/fields.h"
#include "sim/stock/kernel.h"
#include "sim/stock/occupancy.h"
#include "sim/stock/sweep.h"

namespace proveout::stock {

// How voxels of a tile lie in the setup frame. For turns by right angles the tile's own axes are the
// setup's; for free angles they are the stock's and every voxel's place is worked out.
struct Orientation {
  bool aligned = true;
  std::array<int, 3> stock_axis{0, 1, 2};  // stock axis along setup axis k
  std::array<int, 3> direction{1, 1, 1};   // +1 or -1 along it
  RigidMotion setup_from_stock = RigidMotion::Identity();
};
Orientation orientation_of(const RigidMotion& stock_from_setup);

// Sweeps of one motion: the cutting part, then shank and holder.
struct MotionSweeps {
  Sweep flutes;
  std::vector<Sweep> others;
  std::vector<tool::Role> other_roles;
  std::uint32_t first_stretch = 0;
  std::uint32_t stretches = 1;
  MotionId id = 0;
};

// Deepest contact of shank and holder so far, packed so that the deepest is the largest number: depth
// in 1/256 voxel, then the voxel's index, 16 bits each.
struct ContactCell {
  std::atomic<std::uint64_t> shank{0}, holder{0};
};
inline std::uint64_t pack_contact(float depth_voxels, int x, int y, int z) {
  const auto part = [](int v) { return static_cast<std::uint64_t>(v + 32768) & 0xFFFFu; };
  const float steps = depth_voxels * 256 < 65535 ? depth_voxels * 256 : 65535;
  return static_cast<std::uint64_t>(steps) << 48 | part(x) << 32 | part(y) << 16 | part(z);
}

// What tiles share while one batch of motions is cut.
struct ReplayShared {
  Stock::Fields& fields;
  const Orientation& orientation;
  std::span<const MotionSweeps> motions;
  std::span<Stretch> stretches;
  std::span<ContactCell> contacts;  // empty: not asked for
  std::mutex tree;                  // guards the structure of both trees
};

class Tile {
 public:
  static constexpr int edge = 32, blocks_across = 4, block_edge = 8;
  static constexpr int block_voxels = 512, blocks = 64;

  explicit Tile(ReplayShared& shared);

  // Loads the tile at origin (index of its lowest voxel), replays the motions of its bin, stores it.
  void replay(const openvdb::Coord& origin, std::span<const std::uint32_t> bin);

 private:
  struct Block {
    float least = 0, most = 0;      // of the stored distances
    bool changed = false;
  };

  void load(const openvdb::Coord& origin);
  void store();
  void place(const openvdb::Coord& origin);
  void cut(const MotionSweeps& motion);
  void touch(const MotionSweeps& motion, std::size_t index);
  void distances(int block, float* out) const;
  bool reaches(const LocalSweep& sweep, float margin, const float** centres);
  void account(const MotionSweeps& motion, int block, const float* swept);
  void point(const MotionSweeps& motion, int x, int y, int z, float old, float swept, float taken);
  Vec3 gradient(int x, int y, int z) const;
  Vec3 swept_slope(const Vec3& p) const;
  Vec3 tile_place(const Vec3& q) const;
  float between(const Vec3& at) const;
  float value(int x, int y, int z) const {
    return distance_[block_of(x, y, z)][inner_of(x, y, z)];
  }
  static int block_of(int x, int y, int z) { return (x >> 3) | (y >> 3) << 2 | (z >> 3) << 4; }
  static int inner_of(int x, int y, int z) { return (x & 7) | (y & 7) << 3 | (z & 7) << 6; }
  Vec3 setup_point(int x, int y, int z) const;
  openvdb::Coord stock_index(int x, int y, int z) const;

  ReplayShared& shared_;
  const Kernels& kernels_;
  Occupancy occupancy_;
  float voxel_, band_;
  openvdb::Coord origin_;
  Vec3 centre_ = Vec3::Zero();          // of the tile, setup frame: the kernels' local origin
  Eigen::Matrix3d setup_from_tile_ = Eigen::Matrix3d::Identity();  // directions
  Vec3 first_ = Vec3::Zero();           // setup frame, centre of voxel 0,0,0
  LocalSweep local_;
  std::array<Block, blocks> state_;
  std::vector<std::array<float, block_voxels>> distance_;
  std::vector<std::array<std::int32_t, block_voxels>> made_by_;
  std::vector<std::array<float, block_voxels>> swept_;  // scratch, one a block that may change
  std::array<float, 64> centre_distance_{};
  std::vector<StretchLocal> gathered_;
  std::vector<std::uint32_t> gathered_used_;
  bool loaded_ = false, any_change_ = false, all_outside_ = false;
};

}  // namespace proveout::stock
