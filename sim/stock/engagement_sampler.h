// What a motion engages in one tile, sampled at the voxels it changes.
//
// A changed voxel near the old surface stands for the point on that surface beside it, one near the
// tool for the point on the tool, one near both also for the edge between them; all lie in the
// material engaged, so extents are never overstated. Each point belongs to the segment of the
// motion in which the tool first touches it. Points are handled many at a time, by the kernels.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "parser/base/assert.h"
#include "sim/stock/engagement.h"
#include "sim/stock/kernel.h"
#include "sim/stock/sweep.h"

namespace proveout::stock {

// Places of voxels in a tile's arrays: blocks of 8, cells of 4, voxels, x fastest in each.
inline int tile_index(int x, int y, int z) {
  PROVEOUT_ASSERT(((x | y | z) & ~31) == 0, x, y, z);
  return (x & 3) | (y & 3) << 2 | (z & 3) << 4 | (x >> 2 & 1) << 6 | (y >> 2 & 1) << 7 |
         (z >> 2 & 1) << 8 | (x >> 3) << 9 | (y >> 3) << 11 | (z >> 3) << 13;
}
// The bits of an axis. Stepping touches only these; past the last voxel comes the first again.
inline constexpr int tile_x_bits = 0x0643, tile_y_bits = 0x188C, tile_z_bits = 0x6130;
inline int tile_ahead(int index, int axis) {
  return (((index | ~axis) + 1) & axis) | (index & ~axis);
}
inline int tile_back(int index, int axis) {
  return (((index & axis) - 1) & axis) | (index & ~axis);
}
inline int tile_x(int index) { return (index & 3) | (index >> 6 & 1) << 2 | (index >> 9 & 3) << 3; }
inline int tile_y(int index) {
  return (index >> 2 & 3) | (index >> 7 & 1) << 2 | (index >> 11 & 3) << 3;
}
inline int tile_z(int index) {
  return (index >> 4 & 3) | (index >> 8 & 1) << 2 | (index >> 13) << 3;
}

class EngagementSampler {
 public:
  // voxel: mm. areas: columns are filled too.
  EngagementSampler(float voxel, bool areas);

  // segments: of the motion that follows.
  void begin(std::uint32_t segments);
  void add_volume(std::int64_t volume) { gathered(0).volume += volume; }
  // sweep and its local form about centre, the tile's middle (setup frame); stored: the tile's
  // distances before this motion.
  void gather(const Sweep& sweep, const LocalSweep& local, const TileFrame& frame,
              const Vec3& centre, const float* stored, const EngagedVoxels& engaged);
  // Volume a chain's motions took in whole planes of voxels.
  void add_whole(const VolumeAttribution& attribution) {
    for (std::uint32_t m = 0; m < attribution.whole.size(); ++m) {
      if (attribution.whole[m] != 0) gathered(m).volume += attribution.whole[m];
    }
  }
  // The same for a chain, whose segments are its motions.
  void gather_chain(std::span<const LocalSweep> sweeps, const TileFrame& frame, const float* stored,
                    const EngagedVoxels& engaged, const VolumeAttribution& attribution);
  // Hands over what was gathered: into(number of the segment, its LocalSegmentTotals).
  template <class Into>
  void end(Into into) {
    for (const std::uint32_t s : used_) {
      into(s, gathered_[s]);
      gathered_[s] = {};
    }
    used_.clear();
  }

 private:
  static constexpr int most = EngagedVoxels::most;
  // Of points: groups begin anywhere, and kernels go on to a whole number of lanes.
  static constexpr int room = 3 * most + kernel_lanes;
  struct Points {
    int count = 0;
    alignas(64) std::array<float, room> x{}, y{}, z{};
    void add(float px, float py, float pz) {
      PROVEOUT_ASSERT(count < 3 * most, count);
      x[count] = px;
      y[count] = py;
      z[count++] = pz;
    }
  };
  // Of a voxel beside a face: the stored slope (uphill, unit; zero if none) and the tool's.
  struct Face {
    int voxel = 0;  // number in EngagedVoxels
    float x = 0, y = 0, z = 0;
    float ux = 0, uy = 0, uz = 0;
    bool sloped = false, one_face = false;
  };

  LocalSegmentTotals& gathered(std::uint32_t segment) {
    PROVEOUT_ASSERT(segment < gathered_.size(), segment, gathered_.size());
    LocalSegmentTotals& at = gathered_[segment];
    if (!at.used) {
      at.used = true;
      used_.push_back(segment);
    }
    return at;
  }
  // A surface the tool only runs along is not met: what counts lies this deep.
  float skin() const { return 0.05f * voxel_; }
  std::uint32_t segment_at(float along, const Sweep& sweep) const {
    if (segments_ == 1 || !(sweep.length > 0)) return 0;
    const double segment = along / sweep.length * segments_;
    return segment > 0 ? static_cast<std::uint32_t>(std::min<double>(segment, segments_ - 1)) : 0;
  }
  void place(const TileFrame& frame, const EngagedVoxels& engaged);
  void own_points(const Sweep& sweep, const LocalSweep& local, const Vec3& centre,
                  const EngagedVoxels& engaged);
  void choose_faces(const Sweep& sweep, const LocalSweep& local, const TileFrame& frame,
                    const Vec3& centre, const float* stored, const EngagedVoxels& engaged);
  bool settled(const Sweep& sweep, const EngagedVoxels& engaged, int n, int touch) const;
  bool adds_nothing(const LocalSegmentTotals& at, const Profile& profile, float away,
                    int touch) const;
  // Touches [from, from + count), all of one segment.
  void add_touches(LocalSegmentTotals& at, int from, int count) const {
    const float* turn = areas_ ? turn_.data() + from : nullptr;
    kernels_.gather({height_.data() + from, left_.data() + from, bearing_.data() + from, turn,
                     first_column_.data() + from, more_columns_.data() + from,
                     extent_.data() + from, count, plunging_},
                    at);
  }
  float away_of(const EngagedVoxels& engaged, int n) const;
  void face_points(const Sweep& sweep, const LocalSweep& local, const TileFrame& frame,
                   const Vec3& centre, const float* stored, const EngagedVoxels& engaged);
  void slopes(const TileFrame& frame, const float* stored, const EngagedVoxels& engaged);
  void points_on_stock(const LocalSweep& local, const TileFrame& frame, const float* stored,
                       const EngagedVoxels& engaged);
  void points_on_tool(const LocalSweep& local, const TileFrame& frame, const float* stored,
                      const EngagedVoxels& engaged);
  void points_on_tool_at(const LocalSweep& local, const TileFrame& frame, const float* stored,
                         const EngagedVoxels& engaged);
  void touch(const Sweep& sweep, const LocalSweep& local, const Vec3& centre, const Points& points);
  // Of touches [from, from + count), whose height_, across_ and ahead_ are told: place_, turn_ and
  // the columns they stand for.
  void place_on_face(const Profile& profile, bool descending, int from, int count);
  // The same of a straight motion's, at points x, y: ahead_ first.
  void place_on_face(const LocalSweep& local, const float* x, const float* y, int from, int count);
  void add_touches(const Sweep& sweep, int count);
  float between(const TileFrame& frame, const float* stored, float x, float y, float z) const;

  // Chains: the same steps, grouped by motion.
  void chain_volume(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                    const VolumeAttribution& attribution);
  void chain_first(std::span<const LocalSweep> sweeps, const EngagedVoxels& engaged);
  void chain_own_points(std::span<const LocalSweep> sweeps, const EngagedVoxels& engaged);
  void chain_faces(std::span<const LocalSweep> sweeps, const TileFrame& frame, const float* stored,
                   const EngagedVoxels& engaged);
  void chain_face_points(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                         const float* stored, const EngagedVoxels& engaged);
  void chain_points_on_stock(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                             const float* stored, const EngagedVoxels& engaged);
  void chain_points_on_tool(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                            const float* stored, const EngagedVoxels& engaged);
  void group(std::span<const LocalSweep> sweeps, const Points& points, const std::int32_t* motion);
  void place_groups(std::span<const LocalSweep> sweeps);
  void touch_groups(std::span<const LocalSweep> sweeps, const Points& points,
                    const std::int32_t* motion);

  const Kernels& kernels_;
  float voxel_;
  bool areas_;
  std::uint32_t segments_ = 1;
  bool plunging_ = false;
  std::vector<LocalSegmentTotals> gathered_;
  std::vector<std::uint32_t> used_;
  alignas(64) std::array<float, most> x_, y_,
      z_;  // of the engaged voxels, from the tile's middle, setup frame
  std::array<Face, most> faces_;
  int face_count_ = 0;
  int chosen_count_ = 0;
  std::array<std::uint16_t, most> chosen_, rest_;  // numbers in EngagedVoxels
  Points trial_, found_;
  // Numbers from the first on: kernels work whole registers, also on what lies behind the last
  // point.
  alignas(64) std::array<float, room> value_{}, along_{}, height_{}, left_{}, bearing_{}, ahead_{},
      across_{};
  alignas(64) std::array<float, room> place_{}, turn_{};
  alignas(64) std::array<std::int32_t, room> first_column_{}, more_columns_{}, extent_{};
  alignas(64) std::array<float, most> sx_, sy_, sz_;
  std::array<std::uint16_t, 3 * most> from_;
  Points grouped_;
  std::array<int, ChainWork::most_motions + 1> runs_;  // where each motion's begin
  alignas(64) std::array<std::int32_t, 3 * most> motion_, found_motion_;
  std::array<std::int32_t, 3 * most> earliest_;
  std::array<std::int32_t, most> first_;  // of each engaged voxel: the motion that freed it
};

}  // namespace proveout::stock
