// The engine's inner loops, compiled for several instruction sets and chosen at run time. Every one
// does the same arithmetic in the same order, so the results are the same bits.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "sim/stock/face_columns.h"
#include "sim/stock/sweep.h"

namespace proveout::stock {

// Arrays given to kernels are read and written up to the next multiple of this.
inline constexpr int kernel_lanes = 16;

// How a tile's axes lie in the setup frame.
struct TileFrame {
  float voxel = 0;                                       // mm
  float mm_a_step = 0, steps_a_mm = 0;                   // what is written is rounded to steps
  bool aligned = true;                                   // turn is the identity
  std::array<float, 9> turn{1, 0, 0, 0, 1, 0, 0, 0, 1};  // setup_from_tile, row after row
};

// Least stored distance (mm) of a tile's 64 blocks of 8^3 voxels and of their eight cells of 4^3
// each. Block b holds cells 8 b to 8 b + 7; cell s holds voxels 64 s to 64 s + 63.
// Under each cell's values lies a plane: value >= under + slope . (p - middle), p (mm) along the
// tile's axes.
struct TileBounds {
  alignas(64) float block_least[64];
  alignas(64) float least[512];
  alignas(64) float slope_x[512], slope_y[512], slope_z[512], under[512];
};

// Voxels a motion changes: what they are to engagement, as bits of EngagedVoxels::what.
inline constexpr std::uint8_t engaged_own = 1;        // deep enough to stand for itself
inline constexpr std::uint8_t engaged_face = 2;       // beside the old surface or the tool's
inline constexpr std::uint8_t engaged_near_old = 4;   // beside the old surface
inline constexpr std::uint8_t engaged_near_tool = 8;  // beside the tool's
static_assert((engaged_own ^ engaged_face ^ engaged_near_old ^ engaged_near_tool) == 15);
struct EngagedVoxels {
  static constexpr float volume_scale = 16777216.f;  // fixed point of voxel volumes
  static constexpr int cells_at_once = 16;           // handed to an account kernel
  static constexpr int most = 2 * cells_at_once * 64;
  int count = 0;
  std::array<std::uint16_t, most> index{};
  std::array<std::uint8_t, most> what{};
  std::array<float, most> old{}, swept{};     // mm
  std::array<std::int32_t, most> taken{};     // voxels * volume_scale
  std::array<std::int32_t, most> earliest{};  // in a chain: the first motion that comes near
  std::array<std::int32_t, most> owner{};     // in a chain: the motion that made the surface there
};

// How finely a chain's volume is attributed to its motions, by how long they are.
enum class AttributionDetail {
  coarse,  // by fours of neighbours in a plane, of which one stands for all: to the first motion
           // that frees it
  middle,  // voxel by voxel, by how far each motion's front comes into it; where all of a plane
           // goes, to the first motion that frees it
  fine     // voxel by voxel, by how far each motion's front comes into it
};

// First touches of many points; see FirstTouch. bearing: left / (|left| + ahead), which grows with
// the angle from the feed direction, -1 at -90 degrees and 1 at 90; for plunges on to +-2 at +-180.
struct Touches {
  float *along, *height, *left, *bearing;
};

// Where on the tool's face points are first touched, and what each stands for there. The bearing is
// over the whole turn, -2..2.
struct FacePlaces {
  const float *height, *across;  // mm above the foot and across the feed, positive to the left
  float* ahead;  // mm along the feed; 0 afterwards where it was behind the axis of a tool that does
                 // not come down
  float *place, *turn;                  // mm along the meridian (solid::EdgeProfile), bearing
  std::int32_t *first, *more, *extent;  // columns it stands for, and where: PointsOfSegment
};
// How places on a face are told.
struct FaceRules {
  bool descending = false;  // the tool comes down: what lies behind its axis is met as well
  bool plunging = false;    // without a direction: points lie a voxel apart either way
  float voxel = 0;          // mm
};

// A chain's motions over a tile: what its kernel needs and makes.
struct ChainWork {
  static constexpr int most_motions = 16;
  static_assert(most_motions <= kernel_lanes && most_motions < 32);  // a lane each, a bit each
  struct Reach {
    float centre;
    std::int32_t motion;
  };
  static constexpr std::size_t most_listed = std::size_t{512} * most_motions;
  std::vector<std::uint16_t> list = std::vector<std::uint16_t>(most_listed);
  std::vector<float> centre = std::vector<float>(most_listed);
  std::vector<Reach> by_cell = std::vector<Reach>(most_listed);
  // Of winners, one after another: least distance over the motions, at most -stored; its motion,
  // -1: the stored value stands.
  float* swept = nullptr;
  std::int32_t* owner = nullptr;
  // Of winners: motions that may change the cell and come within a voxel of it, a bit each; the
  // first of these, or if there are none, of those that may change it.
  std::array<std::uint32_t, 512> near{};
  std::array<std::int32_t, 512> earliest{};
  std::array<std::uint16_t, 512> winners{};
  std::uint64_t evaluated = 0;  // cells
};

// Volume a chain takes.
struct VolumeAttribution {
  int count = 0;
  std::array<std::uint16_t, EngagedVoxels::most> index{};
  std::array<std::int32_t, EngagedVoxels::most>
      taken{};  // voxels * volume_scale, of all it stands for
  std::array<std::int32_t, EngagedVoxels::most> owner{};  // the motion that made the surface there
  std::array<std::int32_t, EngagedVoxels::most>
      earliest{};  // the first motion that comes near; owner: no need to ask
  std::array<std::int64_t, ChainWork::most_motions>
      whole{};  // by motion: voxels * volume_scale, attributed already
};

struct Kernels {
  // Distance at points, out[i], mm, relative to the sweep's local origin; negative inside.
  void (*points)(const LocalSweep& sweep, const float* x, const float* y, const float* z, int count,
                 float* out);
  // Cells the sweep may reach: least stored distance below limit, and the distance at the middle
  // less the half diagonal below min(-least, cap). list: their numbers; centre: distance at their
  // middles. Room for 512.
  int (*candidates)(const LocalSweep& sweep, const TileFrame& frame, const TileBounds& bounds,
                    float limit, float cap, std::uint16_t* list, float* centre);
  // Distances of the listed cells; those where -distance, cut off at band, exceeds a stored value
  // anywhere are winners, their 64 distances kept in swept, one after another. Returns their
  // number.
  int (*evaluate)(const LocalSweep& sweep, const TileFrame& frame, const std::uint16_t* list,
                  const float* centre, int count, const float* stored, float band, float* swept,
                  std::uint16_t* winners);
  // Lists what winners (cells_at_once at most) take, behind what is listed: voxels that sample
  // engagement, or all that lose volume. Of voxels beside a face only so many sevenths do, in a
  // pattern even along lines and planes. Returns the volume, voxels * EngagedVoxels::volume_scale.
  std::int64_t (*account)(const TileFrame& frame, const std::uint16_t* winners, int count,
                          const float* stored, const float* swept, float band, bool all,
                          int sevenths, EngagedVoxels& engaged);
  // The same for the winners from first on of a chain's motions, with the volume in attribution.
  void (*account_chain)(const LocalSweep* sweeps, int motions, const TileFrame& frame,
                        const ChainWork& work, int first, int count, const float* stored,
                        float band, int sevenths, AttributionDetail detail, EngagedVoxels& engaged,
                        VolumeAttribution& attribution);
  void (*write)(const TileFrame& frame, const std::uint16_t* winners, int count, const float* swept,
                float band, std::int32_t id, float* stored, std::int32_t* made, TileBounds& bounds);
  // Straight motions with a horizontal direction only.
  void (*touches)(const LocalSweep& sweep, const float* x, const float* y, const float* z,
                  int count, Touches& to);
  void (*faces)(const Profile& profile, const FaceRules& rules, int count, const FacePlaces& at);
  // Joins what points span.
  void (*gather)(const PointsOfSegment& points, SegmentExtremes& to);
  // Slopes of the distance, by differences over +-step, mm.
  void (*slopes)(const LocalSweep& sweep, const float* x, const float* y, const float* z, int count,
                 float step, float* sx, float* sy, float* sz);
  // Straight motions of one kind, taken together: the winners over all of them.
  int (*chain)(const LocalSweep* sweeps, int motions, const TileFrame& frame,
               const TileBounds& bounds, float band, const float* stored, ChainWork& work);
  // Number of the first motion of a chain, from earliest on, with a distance below limit at each
  // point, -1: none.
  void (*first)(const LocalSweep* sweeps, int motions, const float* x, const float* y,
                const float* z, int count, float limit, const std::int32_t* earliest,
                std::int32_t* first);
  void (*write_chain)(const TileFrame& frame, ChainWork& work, int count, float band,
                      std::int32_t first_id, float* stored, std::int32_t* made, TileBounds& bounds);
  // Least value and plane of the cells from first on.
  void (*bound)(const TileFrame& frame, const float* stored, int first, int count,
                TileBounds& bounds);
  const char* instruction_set;
};

// The widest this processor runs; PROVEOUT_INSTRUCTIONS=base|avx2|avx512 narrows it for tests.
const Kernels& kernels();
const Kernels& base_kernels();

}  // namespace proveout::stock
