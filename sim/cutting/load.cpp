#include "sim/cutting/load.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include "sim/solid/tool_body.h"

namespace proveout::cutting {
namespace {

constexpr double damping_ratio = 0.03;

Band all_alike(double value) { return {value, value, value}; }

using Forces = std::array<std::array<double, 2>, std::tuple_size_v<decltype(ForceWalk::at)>>;

// Size of the largest. A square tells all but those that are as large to twelve digits; std::hypot,
// which rounds better, is asked of these alone.
double largest_of(const Forces& forces) {
  double most = 0;
  for (const auto& f : forces) most = std::max(most, f[0] * f[0] + f[1] * f[1]);
  const double least = most > 1e-200 && most < 1e200 ? most * (1 - 1e-12) : 0;
  double largest = 0;
  for (const auto& f : forces) {
    if (f[0] * f[0] + f[1] * f[1] >= least) largest = std::max(largest, std::hypot(f[0], f[1]));
  }
  return largest;
}

}  // namespace

double machine_give_of(const job::Machine& machine) {
  if (!machine.stiffness) return 0;
  const double softer = std::min(machine.stiffness->x(), machine.stiffness->y());  // N/um
  return softer > 0 ? 1e-3 / softer : 0;
}

double descent_of(const nc::Motion& motion, double along) {
  const double length = nc::length(motion);
  if (!(length > 0)) return 0;
  const double down = -nc::tangent_at(motion, std::clamp(along / length, 0.0, 1.0)).z();
  return std::asin(std::clamp(down, -1.0, 1.0));
}

LoadModel::LoadModel(const job::Tool& tool, const Material& material, double machine_give)
    : tool_(tool),
      material_(material),
      profile_(solid::make_tool_body(tool).flutes),
      ktc_(material.ktc),
      kte_(material.kte),
      krc_(material.krc),
      kre_(material.kre),
      machine_give_(machine_give),
      beam_(beam_of(tool)) {
  law_ = {0, material.edge_fade_mm};
  if (material.kc11 > 0) {
    law_ = {material.mc, 0};
    ktc_ = all_alike(material.kc11);
    krc_ = all_alike(material.kr * material.kc11);
    kte_ = kre_ = {};
  }
  for (const Beam::TipMode& m : beam_.tip_modes(3))
    tip_.push_back(plain_mode(m.frequency, damping_ratio, m.stiffness));
  for (int i = 0; i <= bend_steps; ++i) {
    const double at = beam_.length * i / bend_steps;
    bend_at_tip_[static_cast<std::size_t>(i)] = beam_.compliance(0, at);
  }
  beam_length_ = beam_.length;
}

double LoadModel::volume_per_mm(const EngagedArea& area, double descent) const {
  // With 1 mm a tooth the chip's volume is that of 1 mm of path.
  return chip_integrals(area, profile_, {1, descent}, {0, 0}).volume;
}

CutLoad LoadModel::at(const EngagedArea& area, const CutMotion& motion, double rate_scale) const {
  CutLoad out;
  out.cutting_speed_m_min = pi * tool_.diameter * motion.rpm / 1000;
  if (!(motion.rpm > 0) || !(motion.feed_mm_min > 0)) return out;
  const ToothFeed feed{motion.feed_mm_min / (tool_.flutes * motion.rpm), motion.descent};
  out.feed_per_tooth_mm = feed.per_tooth;
  const ChipIntegrals sum = chip_integrals(area, profile_, feed, law_);
  if (!(sum.area > 0)) return out;
  out.chip_mm = sum.most_chip;
  out.mean_chip_mm = sum.volume / sum.area;
  // Teeth that pass in a second; the volume rate is the sum of chips, and the path's speed times
  // the area seen along it.
  const double passing = tool_.flutes * motion.rpm / 60 * rate_scale;
  out.removal_mm3_min = passing * sum.volume * 60;
  if (!material_.cuttable) return out;
  out.chip_rate = 1e-3 * passing * sum.chip;
  out.edge_rate = 1e-3 * passing * sum.edge;
  const auto power = [&](double ktc, double kte) {
    return ktc * out.chip_rate + kte * out.edge_rate;
  };
  out.power_w = {power(ktc_.low, kte_.low), power(ktc_.likely, kte_.likely),
                 power(ktc_.high, kte_.high)};
  out.torque_nm = out.power_w.likely * 60 / (2 * pi * motion.rpm);
  if (out.cutting_speed_m_min > 0)
    out.mean_tangential_n = out.power_w.likely / (out.cutting_speed_m_min / 60);
  add_forces(area, motion, rate_scale, out);
  return out;
}

double LoadModel::energy_j(const CutLoad& load, double removed_mm3, double stretch,
                           double feed_mm_min) const {
  if (!(load.feed_per_tooth_mm > 0) || !material_.cuttable) return 0;
  const double removed = std::max(0.0, removed_mm3);
  const double seconds = feed_mm_min > 0 ? stretch / feed_mm_min * 60 : 0;
  const double of_area = load.removal_mm3_min / 60 * seconds;
  // For a law without an exponent a mm3 costs the same however thick its chip.
  const double a_mm3 =
      law_.mc > 0 && load.removal_mm3_min > 0 ? load.chip_rate / (load.removal_mm3_min / 60) : 1e-3;
  const double share = of_area > 0 ? std::min(removed / of_area, 1.25) : 0;
  return ktc_.likely * a_mm3 * removed + kte_.likely * load.edge_rate * seconds * share;
}

void LoadModel::add_forces(const EngagedArea& area, const CutMotion& motion, double share,
                           CutLoad& out) const {
  const double lag = 2 * std::tan(tool_.helix_angle / deg_per_rad) / tool_.diameter;
  const ForceWalk walk = walk_forces(area, profile_, {out.feed_per_tooth_mm, motion.descent}, law_,
                                     {tool_.flutes, lag, motion.clockwise});
  const double middle =
      0.5 * (profile_.height_at(area.lowest()) + profile_.height_at(area.highest()));
  const auto largest = [&](double ktc, double kte, double krc, double kre) {
    Forces forces;
    for (std::size_t k = 0; k < forces.size(); ++k)
      forces[k] = walk.at[k].force(ktc, kte, krc, kre);
    return share * largest_of(forces);
  };
  out.force_n = {largest(ktc_.low, kte_.low, krc_.low, kre_.low),
                 largest(ktc_.likely, kte_.likely, krc_.likely, kre_.likely),
                 largest(ktc_.high, kte_.high, krc_.high, kre_.high)};
  for (std::size_t k = 0; k < walk.at.size(); ++k) {
    const ForceMoment& m = walk.at[k];
    const auto likely = m.force(ktc_.likely, kte_.likely, krc_.likely, kre_.likely);
    if (k < ForceWalk::steps) {
      out.mean_feed_n += share * likely[0] / ForceWalk::steps;
      out.mean_across_n += share * likely[1] / ForceWalk::steps;
    }
    if (m.wall_height >= 0) {  // slices come from the tip up, and lower ones bend more
      out.bend_on_wall_mm = std::max(
          out.bend_on_wall_mm,
          share * std::abs(likely[1]) * (beam_.compliance(m.wall_height, middle) + machine_give_));
    }
  }
  out.bend_mm = out.force_n.likely * (bend_per_newton(middle) + machine_give_);
  // A drill's lips balance each other, and its hole guides it: what the walk leaves over is where
  // the first columns of the point were sampled.
  if (tool_.shape == job::ToolShape::drill) out.bend_mm = out.bend_on_wall_mm = 0;
}

CutLoad LoadModel::at(const stock::EngagementSample& s,
                      std::span<const stock::ColumnExtent> extents, const CutMotion& motion,
                      double rate_scale) const {
  if (!(s.length >= 0) || (s.removed_mm3 <= 0 && s.axial_depth <= 0)) return {};
  return at(area_of(s, extents, profile_), motion, rate_scale);
}

CutLoad LoadModel::at(const stock::EngagementSample& s, double feed_mm_min, double rpm,
                      bool clockwise) const {
  const bool plunge = s.arc_to - s.arc_from > 180.5f;
  const CutMotion motion{feed_mm_min, rpm, clockwise, plunge ? pi / 2 : 0};
  return at(s, {}, motion);
}

double LoadModel::bend_per_newton(double height) const {
  const double at = std::clamp(height / beam_length_, 0.0, 1.0) * bend_steps;
  const int i = std::min(static_cast<int>(at), bend_steps - 1);
  const double share = at - i;
  const auto k = static_cast<std::size_t>(i);
  return bend_at_tip_[k] + share * (bend_at_tip_[k + 1] - bend_at_tip_[k]);
}

const ZeroOrder& LoadModel::lobes(double arc_from_deg, double arc_to_deg, bool clockwise) const {
  constexpr int step = 3;  // deg
  const int from = static_cast<int>(std::lround(arc_from_deg / step));
  const int to = std::max(from + 1, static_cast<int>(std::lround(arc_to_deg / step)));
  const auto kept = lobes_.find({from, to, clockwise});
  if (kept != lobes_.end()) return kept->second;
  // The sources count from where the chip is nothing, in the sense the teeth run: from the left
  // with M3.
  const double low = clockwise ? 90 - to * step : 90 + from * step;
  const double high = clockwise ? 90 - from * step : 90 + to * step;
  Cutting cut;
  cut.teeth = tool_.flutes;
  // What follows the chip, and feeds the vibration, is the slope of force over chip thickness.
  const double middle =
      0.5 * (material_.chip_per_mm_diameter.first + material_.chip_per_mm_diameter.second) *
      tool_.diameter;
  const double slope = law_.mc > 0 ? (1 - law_.mc) * std::pow(std::max(middle, 1e-5), -law_.mc) : 1;
  cut.kt = ktc_.likely * slope;
  cut.kr = ktc_.likely > 0 ? krc_.likely / ktc_.likely : 0.3;
  cut.enter = std::clamp(low, 0.0, 180.0) / deg_per_rad;
  cut.exit = std::clamp(high, 0.0, 180.0) / deg_per_rad;
  return lobes_.try_emplace({from, to, clockwise}, ZeroOrder(tip_, tip_, cut)).first->second;
}

double LoadModel::limit_depth_mm(double rpm, double arc_from_deg, double arc_to_deg,
                                 bool clockwise) const {
  return lobes(arc_from_deg, arc_to_deg, clockwise).limit(rpm);
}

double LoadModel::least_limit_depth_mm(double arc_from_deg, double arc_to_deg,
                                       bool clockwise) const {
  return lobes(arc_from_deg, arc_to_deg, clockwise).least();
}

}  // namespace proveout::cutting
