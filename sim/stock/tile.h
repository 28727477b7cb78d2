// A tile: 32^3 voxels of the stock, laid out in the setup's directions, replaying its motions in
// time order.
#pragma once

#include <algorithm>
#include <array>
#include <compare>
#include <cstdint>
#include <memory>
#include <mutex>
#include <span>
#include <vector>

#include "sim/stock/engagement.h"
#include "sim/stock/engagement_sampler.h"
#include "sim/stock/fields.h"
#include "sim/stock/kernel.h"
#include "sim/stock/sweep.h"

namespace proveout::stock {

// How voxels of a tile lie in the setup frame. For turns by right angles the tile's own axes are
// the setup's; for free angles they are the stock's and every voxel's place is worked out.
struct Orientation {
  bool aligned = true;
  std::array<int, 3> stock_axis{0, 1, 2};  // stock axis along setup axis k
  std::array<int, 3> direction{1, 1, 1};   // +1 or -1 along it
  RigidMotion setup_from_stock = RigidMotion::Identity();
};
Orientation orientation_of(const RigidMotion& stock_from_setup);

struct BodyProfiles {
  Profile flutes;
  std::vector<Profile> others;  // shank and holder
  std::vector<solid::Role> roles;
};

// One motion to replay: the sweep of its cutting part, and the tool for the others.
struct MotionSweeps {
  Sweep flutes;
  const BodyProfiles* body = nullptr;
  std::uint32_t first_segment = 0;
  std::uint32_t segments = 1;
  MotionId id = 0;
  bool chains = false;                                // may be one of a chain
  Eigen::Vector2f heading = Eigen::Vector2f::Zero();  // if so: its direction in plan, setup frame
};
// Fills chains and heading. voxel: mm.
void decide_if_chained(MotionSweeps& motion, double voxel);

// Where a part of the tool lies deepest in material: 1 and the depth in 1/256 voxel, 0 where it
// meets none, and the voxel's index. Of equal depths the place of largest index counts, so that the
// order in which tiles are done does not matter.
struct DeepestPlace {
  static constexpr float steps_a_voxel = 256;
  std::uint32_t depth_rank = 0;
  int x = 0, y = 0, z = 0;
  // clang-tidy 14 takes the comparison with 0 that a default makes for a null pointer.
  // NOLINTNEXTLINE(modernize-use-nullptr)
  auto operator<=>(const DeepestPlace&) const = default;
  float depth_voxels() const {
    return depth_rank == 0 ? 0 : static_cast<float>(depth_rank - 1) / steps_a_voxel;
  }
};
struct DeepestContact {
  DeepestPlace shank, holder;
  void add(const DeepestContact& other) {
    shank = std::max(shank, other.shank);
    holder = std::max(holder, other.holder);
  }
};

// What tiles share while one batch of motions is cut.
struct ReplayShared {
  Stock::Fields& fields;
  const Orientation& orientation;
  std::span<const MotionSweeps> motions;
  SegmentStore& segments;
  bool areas;                          // whether the engaged area is told by columns
  std::span<DeepestContact> contacts;  // empty: not asked for
  std::mutex tree;                     // guards the structure of both trees
  std::mutex contact;                  // guards contacts
  std::atomic<std::uint64_t> distances{0};
};

class Tile {
 public:
  static constexpr int edge = 32, blocks_across = 4, block_edge = 8;
  static constexpr int block_voxels = 512, blocks = 64, cells = 512, cell_voxels = 64;
  static_assert(blocks * block_voxels == edge * edge * edge &&
                cells * cell_voxels == edge * edge * edge);
  static_assert(cells * cell_voxels <= 1 << 16);  // EngagedVoxels::index

  explicit Tile(ReplayShared& shared);

  // Loads the tile at origin (index of its lowest voxel), replays bins one after another, stores
  // it.
  void replay(const openvdb::Coord& origin, std::span<const std::span<const std::uint32_t>> bins);

 private:
  using Leaf = DistanceLeaf;
  using IdLeaf = openvdb::Int32Tree::LeafNodeType;
  struct Sources {
    Leaf* leaf = nullptr;
    IdLeaf* ids = nullptr;
    float constant = 0;
    std::int32_t id_constant = 0;
  };

  // What a changed block has for the trees: leaves they do not hold yet, or one value for all of
  // it.
  struct StoredBlock {
    openvdb::Coord corner;
    bool air = false, one_number = false;
    std::int32_t number = 0;
    std::unique_ptr<Leaf> leaf;
    std::unique_ptr<IdLeaf> ids;
  };

  void load(const openvdb::Coord& origin);
  void store();
  void store_block(int block);
  void store_numbers(int block, StoredBlock& stored);
  void cut(const MotionSweeps& motion);
  void cut_chain(int motions);
  int chain_length(std::span<const std::uint32_t> entries) const;
  void touch(const MotionSweeps& motion, std::size_t index);
  DeepestPlace deepest_of(const Sweep& sweep);
  bool reaches(const LocalSweep& sweep, float bound) const;
  void update_bounds();
  openvdb::Coord stock_index(int x, int y, int z) const;

  ReplayShared& shared_;
  const Kernels& kernels_;
  float voxel_, band_;
  float mm_a_step_;
  Stock::Fields::Rounding in_steps_;
  TileFrame frame_;
  openvdb::Coord origin_;
  Vec3 centre_ = Vec3::Zero();  // of the tile, setup frame: the kernels' local origin
  LocalSweep local_;
  std::vector<LocalSweep> chain_;
  std::array<const MotionSweeps*, ChainWork::most_motions> chained_{};
  ChainWork work_;
  std::vector<std::int32_t> owner_;
  TileBounds bounds_;
  float least_ = 0;  // of the whole tile
  struct alignas(64) Field {
    std::array<float, cells * cell_voxels> value;
  };
  std::unique_ptr<Field> distance_, swept_;
  std::vector<std::int32_t> made_by_;
  std::array<std::uint16_t, block_voxels> leaf_offset_;  // of a block's voxels, in their tile order
  std::array<Sources, blocks> sources_;
  std::array<bool, blocks> changed_{};
  std::vector<StoredBlock> stored_;
  std::array<std::uint16_t, cells> listed_, winners_;
  std::array<float, cells> at_middle_;
  std::unique_ptr<EngagedVoxels> engaged_;
  std::unique_ptr<VolumeAttribution> attribution_;
  std::unique_ptr<EngagementSampler> sampler_;
  std::uint64_t distances_ = 0;
  bool any_change_ = false;
};

}  // namespace proveout::stock
