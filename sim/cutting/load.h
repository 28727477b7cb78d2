// Chip, force, power and bend for one engagement sample. Formulas and sources: docs/loads.md.
#pragma once

#include <array>
#include <map>
#include <tuple>

#include "parser/job/job.h"
#include "sim/cutting/beam.h"
#include "sim/cutting/material.h"
#include "sim/cutting/zero_order.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::cutting {

struct CutLoad {
  double chip_mm = 0;       // largest chip thickness over the arc in material, mm
  double mean_chip_mm = 0;  // mm
  double force_n = 0;       // largest resultant across a turn, N
  double mean_tangential_n = 0;
  double power_w = 0;    // mean at the spindle nose, W
  double torque_nm = 0;  // mean at the spindle nose, Nm
  double bend_mm = 0;    // at the tip, mm
  double bend_on_wall_mm =
      0;  // across the finished wall at the moments teeth pass it, mm; 0: it leaves no wall
  double removal_mm3_min = 0;  // mm3/min
  double feed_per_tooth_mm = 0;
  double cutting_speed_m_min = 0;
};

// feed_mm_min: planned speed of the tool at this sample. rpm: spindle speed. One tool and material;
// holds what can be worked out once.
class LoadModel {
 public:
  LoadModel(const job::Tool& tool, const Material& material);
  CutLoad at(const stock::EngagementSample& sample, double feed_mm_min, double rpm,
             bool clockwise) const;
  // Greatest stable axial depth, mm, at this speed and arc (engagement's sense), by the zero-order
  // solution; and the nearest stable speed for a depth. Arcs are taken in steps of 3 degrees and
  // kept: not from several threads at once.
  double limit_depth_mm(double rpm, double arc_from_deg, double arc_to_deg, bool clockwise) const;
  double nearest_calm_rpm(double rpm, double axial_depth_mm, double arc_from_deg, double arc_to_deg,
                          bool clockwise, double min_rpm,
                          double max_rpm) const;  // 0: none in range
  // The speed between the two whose limit depth is largest, 1/min.
  double calmest_rpm(double arc_from_deg, double arc_to_deg, bool clockwise, double min_rpm,
                     double max_rpm) const;

 private:
  const ZeroOrder& lobes(double arc_from_deg, double arc_to_deg, bool clockwise) const;
  CutLoad plunging(const stock::EngagementSample& sample, CutLoad load) const;
  double bend_per_newton(double height) const;

  static constexpr int bend_steps = 200;
  job::Tool tool_;
  Material material_;
  Beam beam_;
  std::array<double, bend_steps + 1>
      bend_at_tip_{};  // mm/N under a force at each height of the beam
  double beam_length_ = 1;
  Response tip_;  // the lowest modes of the tool clamped in its holder
  mutable std::map<std::tuple<int, int, bool>, ZeroOrder> lobes_;
};

}  // namespace proveout::cutting
