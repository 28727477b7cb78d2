// The stock: a narrow-band signed distance field (mm, negative inside) sampled at voxel centres of
// an OpenVDB tree in stock coordinates, with the motion that made each surface voxel beside it.
// Cutting is max(stock, -swept tool); models.md-style definitions stand in docs/engine.md.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <span>
#include <vector>

#include "parser/base/geometry.h"
#include "parser/nc/motion.h"
#include "sim/solid/tool_body.h"

namespace proveout::stock {

// Number of a motion over the whole job, counted from 1 through all setups; 0: the blank's own
// surface.
using MotionId = std::uint32_t;
inline constexpr MotionId from_blank = 0;

// What the tool meets at one place along a motion, before the motion takes it.
// Angles are of the contact point about the tool's axis, measured from the feed direction, positive
// to the left of it seen from above: 0 is straight ahead, -90 right, +90 left. With M3 the cut is
// climb where the material lies to the right. A plunge has no feed direction: its arc is -180..180.
struct EngagementSample {
  float along = 0;   // mm of path from the motion's start to the middle of this sample's segment
  float length = 0;  // mm of path it stands for
  float removed_mm3 = 0;   // mm3 taken within the segment
  float axial_depth = 0;   // mm, extent along the tool's axis of the material met
  float bottom = 0;        // mm above the tip: where that extent starts
  float radial_width = 0;  // mm, extent perpendicular to feed and axis
  float arc_from = 0;      // deg
  float arc_to = 0;        // deg, >= arc_from
  float arc = 0;           // deg in material between them (gaps left out)
  // The part of the tool's face in material, by columns of its bearing over the whole turn
  // (sim/cutting/engaged_area.h): which columns hold any, their extents in Cut::extents from
  // first_extent on, and the exact ends. 0: not told.
  std::uint64_t columns = 0;
  std::uint32_t first_extent = 0;
  float area_from = -180;  // deg, -180..180
  float area_to = 180;     // deg, area_from to area_from + 360
};

// Bearing columns: column k spans -180 + k to -180 + (k + 1) times this, deg.
inline constexpr int bearing_columns = 64;
inline constexpr double column_deg = 360.0 / bearing_columns;

// Lowest and highest place on the tool's meridian in material in one column, as steps of
// 1 / places_a_mm mm (solid::EdgeProfile says what a place is); tools of more than 130 mm of
// meridian are told up to there.
struct ColumnExtent {
  std::uint16_t low = 0, high = 0;
  static constexpr double places_a_mm = 500;
};

enum Contact : std::uint8_t {
  contact_flutes = 1,
  contact_tip_centre = 2,
  contact_shank = 4,
  contact_holder = 8
};

struct MotionOutcome {
  double removed_mm3 = 0;
  std::uint8_t contact = 0;        // Contact bits: which parts of the tool met material
  float shank_depth = 0;           // mm: how deep the shank went into material, 0: not at all
  float holder_depth = 0;          // mm, likewise
  Vec3 contact_at = Vec3::Zero();  // setup frame: where shank or holder went deepest
  std::uint32_t first_sample = 0;  // into Cut::samples
  std::uint32_t sample_count = 0;  // 0: nothing met
};

struct CutOptions {
  int threads = 0;  // 0: all cores
  bool shank_and_holder = true;
  // Called with the share done, 0..1, now and then, always on the thread that called cut(); return
  // false to stop early.
  std::function<bool(double)> progress;
};

// Outcome of cutting one setup's motions, in their order.
struct Cut {
  std::vector<MotionOutcome> motions;
  std::vector<EngagementSample> samples;
  std::vector<ColumnExtent> extents;  // of the samples' columns, one a set bit, lowest bit first
  std::uint64_t distances = 0;  // voxels at which a swept distance was evaluated: the work done
  bool stopped = false;
};

struct ToolRun {  // motions [first, last) are made with this body
  std::size_t first = 0, last = 0;
  const solid::ToolBody* body = nullptr;
};

class Stock {
 public:
  // A box from 0,0,0 to size (mm, stock coordinates). voxel: edge in mm.
  static Stock box(const Vec3& size, double voxel);
  // A blank of any closed shape; triangles index vertices (mm, stock coordinates).
  static Stock mesh(std::span<const Vec3> vertices,
                    std::span<const std::array<std::uint32_t, 3>> triangles, double voxel);
  Stock(Stock&&) noexcept;
  Stock& operator=(Stock&&) noexcept;
  ~Stock();
  Stock clone() const;

  double voxel() const;  // mm

  // Cuts motions in order. stock_from_setup places the setup's frame; the tool's axis is the
  // setup's z. first_id: MotionId of motions[0]. Same result for any number of threads.
  Cut cut(std::span<const nc::Motion> motions, std::span<const ToolRun> tools,
          const RigidMotion& stock_from_setup, MotionId first_id, const CutOptions& options);

  // The OpenVDB grids (sim/stock/fields.h): to be read only. To change them take them out, which
  // leaves a stock that may only be assigned to or destroyed, and make a stock of them again.
  struct Fields;
  const Fields& fields() const { return *fields_; }
  std::unique_ptr<Fields> take_fields() &&;
  static Stock of_fields(std::unique_ptr<Fields> fields);

 private:
  explicit Stock(std::unique_ptr<Fields> fields);
  std::unique_ptr<Fields> fields_;
};

}  // namespace proveout::stock
