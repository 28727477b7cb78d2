#include "sim/cutting/load.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include "sim/cutting/beam.h"

namespace proveout::cutting {
namespace {

constexpr double damping_ratio = 0.03;

// Radius and lead-angle sine of the edge at a height above the tip.
struct Edge {
  double radius = 0, sine = 1;
};

Edge edge_at(const job::Tool& t, double h) {
  using job::ToolShape;
  const double r = t.diameter / 2;
  switch (t.shape) {
    case ToolShape::ball:
    case ToolShape::bull: {
      const double c = t.shape == ToolShape::ball ? r : std::min(t.corner_radius, r);
      if (h >= c || c <= 0) return {r, 1};
      const double d = c - std::max(h, 0.0), s = std::sqrt(std::max(0.0, c * c - d * d));
      return {r - c + s, s / c};
    }
    case ToolShape::taper:
    case ToolShape::vee:
    case ToolShape::drill: {
      const double half = t.tip_angle / 2 / deg_per_rad;
      const double tip = t.shape == ToolShape::drill ? 0 : t.tip_diameter / 2;
      const double at = tip + std::max(h, 0.0) * std::tan(half);
      return at >= r ? Edge{r, 1} : Edge{at, std::cos(half)};
    }
    case ToolShape::flat:
    case ToolShape::form:
      break;
  }
  return {r, 1};
}

struct Slice {
  double height = 0, thickness = 0;
  Edge edge;
};

std::vector<Slice> slices_of(const job::Tool& t, double bottom, double depth) {
  const int count =
      std::clamp(static_cast<int>(std::ceil(depth / std::max(0.02 * t.diameter, 1e-6))), 4, 24);
  std::vector<Slice> out(static_cast<std::size_t>(count));
  for (int i = 0; i < count; ++i) {
    Slice& s = out[static_cast<std::size_t>(i)];
    s.thickness = depth / count;
    s.height = bottom + (i + 0.5) * s.thickness;
    s.edge = edge_at(t, s.height);
  }
  return out;
}

double kienzle(const Material& m, double h) { return m.kc11 * std::pow(std::max(h, 1e-5), -m.mc); }

}  // namespace

LoadModel::LoadModel(const job::Tool& tool, const Material& material)
    : tool_(tool), material_(material), beam_(beam_of(tool)) {
  const Beam& beam = beam_;
  for (const Beam::TipMode& m : beam.tip_modes(3))
    tip_.push_back(plain_mode(m.frequency, damping_ratio, m.stiffness));
  for (int i = 0; i <= bend_steps; ++i) {
    const double at = beam.length * i / bend_steps;
    bend_at_tip_[static_cast<std::size_t>(i)] = beam.compliance(0, at);
  }
  beam_length_ = beam.length;
}

// Angles in the engagement's sense: 0 straight ahead, +90 left. The chip is fz cos(angle) thick
// there.
CutLoad LoadModel::at(const stock::EngagementSample& s, double feed_mm_min, double rpm,
                      bool clockwise) const {
  CutLoad out;
  if (!(s.length >= 0) || (s.removed_mm3 <= 0 && s.axial_depth <= 0)) return out;
  out.cutting_speed_m_min = pi * tool_.diameter * rpm / 1000;
  // Time in the segment at this feed gives the rate; a sample of no length has none.
  if (s.length > 0) out.removal_mm3_min = std::max(0.0f, s.removed_mm3) / s.length * feed_mm_min;
  if (!(rpm > 0) || !(feed_mm_min > 0) || !material_.cuttable) return out;
  const double fz = feed_mm_min / (tool_.flutes * rpm);
  out.feed_per_tooth_mm = fz;
  const bool plunge = s.arc_to - s.arc_from > 180.5f;
  if (plunge) return plunging(s, out);
  const double from = s.arc_from / deg_per_rad, to = s.arc_to / deg_per_rad;
  const double arc = std::max(1e-6, to - from);
  const double most_cos = from <= 0 && to >= 0 ? 1.0 : std::max(std::cos(from), std::cos(to));
  const double mean_cos = (std::sin(to) - std::sin(from)) / arc;
  const auto slices = slices_of(tool_, s.bottom, s.axial_depth);
  double mean_sine = 0, most_sine = 0;
  for (const Slice& sl : slices) {
    mean_sine += sl.edge.sine / static_cast<double>(slices.size());
    most_sine = std::max(most_sine, sl.edge.sine);
  }
  out.chip_mm = fz * most_cos * most_sine;
  out.mean_chip_mm = fz * mean_cos * mean_sine;
  out.power_w = out.removal_mm3_min * kienzle(material_, out.mean_chip_mm) / 60000;
  out.torque_nm = out.power_w * 60 / (2 * pi * rpm);
  if (out.cutting_speed_m_min > 0)
    out.mean_tangential_n = out.power_w / (out.cutting_speed_m_min / 60);

  // Peak resultant over one tooth pitch, all teeth in cut, helix lag between slices.
  const double pitch = 2 * pi / tool_.flutes;
  const double lag = 2 * std::tan(tool_.helix_angle / deg_per_rad) / tool_.diameter;
  const double sense = clockwise ? -1 : 1;
  constexpr int steps = 24;
  const double middle = s.bottom + 0.5 * s.axial_depth;
  // The finished wall stands 90 degrees from straight ahead, on the side where the material ends
  // there; a slice makes it at the moment one of its teeth passes, so the bend of that moment stays
  // on it (Trent and Wright, "Metal Cutting").
  const bool wall_left = to > 85 / deg_per_rad, wall_right = from < -85 / deg_per_rad;
  const auto at_wall = [&](double phi) {
    const double near = pi / tool_.flutes / steps;  // half a step
    return (wall_left && std::abs(phi - pi / 2) <= near) ||
           (wall_right && std::abs(phi + pi / 2) <= near);
  };
  // Steps alone pass by the peak of a short cut: chips are thickest where the lowest slice leaves
  // the material or the highest enters it. A hair inside, so that rounding does not put the tooth
  // out.
  std::array<double, steps + 4> turned{};
  for (int k = 0; k < steps; ++k) turned[static_cast<std::size_t>(k)] = pitch * k / steps;
  const double hair = std::min(1e-9, arc / 4);
  turned[steps] = sense * (from + hair) + lag * slices.front().height;
  turned[steps + 1] = sense * (to - hair) + lag * slices.front().height;
  turned[steps + 2] = sense * (from + hair) + lag * slices.back().height;
  turned[steps + 3] = sense * (to - hair) + lag * slices.back().height;
  for (std::size_t k = 0; k < turned.size(); ++k) {
    double fx = 0, fy = 0, lowest_at_wall = -1;
    for (const Slice& sl : slices) {
      for (int tooth = 0; tooth < tool_.flutes; ++tooth) {
        double phi = sense * (turned[k] + pitch * tooth - lag * sl.height);
        phi -= 2 * pi * std::floor(phi / (2 * pi) + 0.5);  // -180 to 180 degrees
        if (k < steps && lowest_at_wall < 0 && at_wall(phi)) lowest_at_wall = sl.height;
        if (phi < from || phi > to) continue;
        const double h = fz * std::cos(phi) * sl.edge.sine;
        if (h <= 0) continue;
        // Width of cut along the edge is thickness / sine: the force of the slice keeps the chip's
        // area.
        const double ft = kienzle(material_, h) * h * sl.thickness / std::max(sl.edge.sine, 0.05);
        const double fr = material_.kr * ft;
        // Tangential against the tooth's motion, radial towards the axis (on the tool).
        fx += -sense * -std::sin(phi) * ft - std::cos(phi) * fr;
        fy += -sense * std::cos(phi) * ft - std::sin(phi) * fr;
      }
    }
    out.force_n = std::max(out.force_n, std::hypot(fx, fy));
    if (lowest_at_wall >= 0) {  // slices come from the tip up, and lower ones bend more
      out.bend_on_wall_mm =
          std::max(out.bend_on_wall_mm, std::abs(fy) * beam_.compliance(lowest_at_wall, middle));
    }
  }
  out.bend_mm = out.force_n * bend_per_newton(middle);
  return out;
}

// Straight down: the tip's edges take fz deep chips over the whole circle; side forces balance but
// for one tooth's, taken as a quarter of the thrust (assumed).
CutLoad LoadModel::plunging(const stock::EngagementSample& s, CutLoad out) const {
  out.chip_mm = out.mean_chip_mm = out.feed_per_tooth_mm;
  out.power_w = out.removal_mm3_min * kienzle(material_, out.chip_mm) / 60000;
  const double thrust = kienzle(material_, out.chip_mm) * out.chip_mm * 0.5 * s.radial_width * 0.5;
  out.force_n = 0.25 * thrust;
  out.bend_mm = out.force_n * bend_per_newton(0);
  out.bend_on_wall_mm = out.bend_mm;
  return out;
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
  cut.kt =
      kienzle(material_,
              0.5 * (material_.chip_per_mm_diameter.first + material_.chip_per_mm_diameter.second) *
                  tool_.diameter);
  cut.kr = material_.kr;
  cut.enter = std::clamp(low, 0.0, 180.0) / deg_per_rad;
  cut.exit = std::clamp(high, 0.0, 180.0) / deg_per_rad;
  return lobes_.try_emplace({from, to, clockwise}, ZeroOrder(tip_, tip_, cut)).first->second;
}

double LoadModel::limit_depth_mm(double rpm, double arc_from_deg, double arc_to_deg,
                                 bool clockwise) const {
  return lobes(arc_from_deg, arc_to_deg, clockwise).limit(rpm);
}

double LoadModel::nearest_calm_rpm(double rpm, double axial_depth_mm, double arc_from_deg,
                                   double arc_to_deg, bool clockwise, double min_rpm,
                                   double max_rpm) const {
  double best = 0;
  for (int i = 0; i <= 400; ++i) {
    const double n = min_rpm + (max_rpm - min_rpm) * i / 400;
    if (!(n > 0) || limit_depth_mm(n, arc_from_deg, arc_to_deg, clockwise) < axial_depth_mm)
      continue;
    if (best == 0 || std::abs(n - rpm) < std::abs(best - rpm)) best = n;
  }
  return best;
}

double LoadModel::calmest_rpm(double arc_from_deg, double arc_to_deg, bool clockwise,
                              double min_rpm, double max_rpm) const {
  const ZeroOrder& zero = lobes(arc_from_deg, arc_to_deg, clockwise);
  double best = max_rpm, most = zero.limit(max_rpm);
  for (int i = 0; i < 400; ++i) {
    const double n = min_rpm + (max_rpm - min_rpm) * i / 400;
    const double depth = zero.limit(n);
    if (n > 0 && depth > most) {
      most = depth;
      best = n;
    }
  }
  return best;
}

}  // namespace proveout::cutting
