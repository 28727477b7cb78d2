// Chip, force, power and bend for one engagement sample. Formulas and sources: docs/loads.md.
#pragma once

#include <array>
#include <map>
#include <span>
#include <tuple>

#include "parser/job/job.h"
#include "parser/nc/motion.h"
#include "sim/cutting/beam.h"
#include "sim/cutting/edge_forces.h"
#include "sim/cutting/engaged_area.h"
#include "sim/cutting/material.h"
#include "sim/cutting/zero_order.h"
#include "sim/solid/edge_profile.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::cutting {

struct CutLoad {
  double chip_mm = 0;       // largest chip thickness over the area in material, mm
  double mean_chip_mm = 0;  // mm
  Band force_n;             // largest resultant across the axis in a turn, N
  double mean_feed_n = 0, mean_across_n = 0;  // N on the tool: mean along the feed, and left of it
  double mean_tangential_n = 0;
  Band power_w;          // mean at the spindle nose, W
  double torque_nm = 0;  // mean at the spindle nose, Nm
  double bend_mm = 0;    // at the tip, the machine's give included, mm
  double bend_on_wall_mm =
      0;  // across the finished wall at the moments teeth pass it, mm; 0: it leaves no wall
  double removal_mm3_min = 0;  // mm3/min
  double feed_per_tooth_mm = 0;
  double cutting_speed_m_min = 0;
  // What the power is made of: P = ktc chip_rate + kte edge_rate, in W with both laws' units.
  double chip_rate = 0;  // of h^(1 - mc) over the area, 1e-3 mm^(3 - mc)/s
  double edge_rate = 0;  // 1e-3 mm2/s, of the area where it cuts
};

// How the tool moves at a sample.
struct CutMotion {
  double feed_mm_min = 0;  // planned speed along the path
  double rpm = 0;
  bool clockwise = true;  // seen from above: M3
  double descent = 0;     // rad, the path goes down at; up is negative
};

// The angle a motion goes down at, rad, mm from its start; 0 for a motion of no length.
double descent_of(const nc::Motion& motion, double along);

// One tool and material; holds what can be worked out once.
class LoadModel {
 public:
  // machine_give: mm/N at the spindle's nose (machine_give_of); 0: a stiff machine.
  LoadModel(const job::Tool& tool, const Material& material, double machine_give = 0);

  // rate_scale: volume really taken over what the area's columns would take, from a run of like
  // stretches (VolumeRuns).
  CutLoad at(const EngagedArea& area, const CutMotion& motion, double rate_scale = 1) const;
  // Of a sample; extents: of the cut it belongs to. A sample that meets nothing has no load.
  CutLoad at(const stock::EngagementSample& sample, std::span<const stock::ColumnExtent> extents,
             const CutMotion& motion, double rate_scale = 1) const;
  // Of a sample made by hand: its depth over its arc, with the rate its volume says; above 180.5
  // degrees straight down.
  CutLoad at(const stock::EngagementSample& sample, double feed_mm_min, double rpm,
             bool clockwise) const;

  // Work of a stretch, J: the chip's part by the volume really taken, the edge's by how much of
  // what the area would take that was. load: as told by at(); removed: mm3; stretch: mm; feed:
  // mm/min.
  double energy_j(const CutLoad& load, double removed_mm3, double stretch,
                  double feed_mm_min) const;

  // mm3 the area takes per mm of path.
  double volume_per_mm(const EngagedArea& area, double descent) const;
  const solid::EdgeProfile& profile() const { return profile_; }

  // Greatest stable axial depth, mm, at this speed and arc (engagement's sense), by the zero-order
  // solution with the chip's coefficient only (the edge's does not follow the chip); the least over
  // all speeds; Arcs are taken in steps of 3 degrees and kept: not from several threads at once.
  double limit_depth_mm(double rpm, double arc_from_deg, double arc_to_deg, bool clockwise) const;
  double least_limit_depth_mm(double arc_from_deg, double arc_to_deg, bool clockwise) const;

 private:
  const ZeroOrder& lobes(double arc_from_deg, double arc_to_deg, bool clockwise) const;
  void add_forces(const EngagedArea& area, const CutMotion& motion, double share,
                  CutLoad& out) const;
  double bend_per_newton(double height) const;

  static constexpr int bend_steps = 200;
  job::Tool tool_;
  Material material_;
  solid::EdgeProfile profile_;
  LawShape law_;
  Band ktc_, kte_, krc_, kre_;
  double machine_give_ = 0;
  Beam beam_;
  std::array<double, bend_steps + 1>
      bend_at_tip_{};  // mm/N under a force at each height of the beam
  double beam_length_ = 1;
  Response tip_;  // the lowest modes of the tool clamped in its holder
  mutable std::map<std::tuple<int, int, bool>, ZeroOrder> lobes_;
};

// mm/N across the axis at the spindle's nose, by the softer of x and y: which way a cut pulls turns
// with its heading. 0: the job gives no stiffness.
double machine_give_of(const job::Machine& machine);

}  // namespace proveout::cutting
