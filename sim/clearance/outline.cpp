#include "sim/clearance/outline.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace proveout::clearance {
namespace {

// A convex arc as the tangents' polygon: outside of it, by r (1/cos(a/2) - 1) at its corners.
void add_arc(Outline& out, const solid::ProfileSegment& p) {
  const double r = p.arc_radius;
  const double from = std::atan2(p.from.height - p.centre.height, p.from.radius - p.centre.radius);
  const double turn =
      std::atan2(p.to.height - p.centre.height, p.to.radius - p.centre.radius) - from;
  const double step = 2 * std::acos(r / (r + 0.01));
  const int pieces = std::max(1, static_cast<int>(std::ceil(std::abs(turn) / step)));
  const double a = turn / pieces, reach = r / std::cos(a / 2);
  double r0 = p.from.radius, z0 = p.from.height;
  for (int k = 0; k < pieces; ++k) {
    const double at = from + (k + 0.5) * a;
    const double r1 = p.centre.radius + reach * std::cos(at);
    const double z1 = p.centre.height + reach * std::sin(at);
    out.add({r0, z0, r1, z1});
    r0 = r1;
    z0 = z1;
  }
  out.add({r0, z0, p.to.radius, p.to.height});
}

}  // namespace

void Outline::add(const Edge& edge) {
  if (edges.empty()) {
    bottom = std::numeric_limits<double>::infinity();
    top = -bottom;
  }
  edges.push_back(edge);
  bottom = std::min({bottom, edge.z0, edge.z1});
  top = std::max({top, edge.z0, edge.z1});
  radius = std::max({radius, edge.r0, edge.r1});
}

Outline Outline::drawn_in(double by) const {
  Outline out;
  for (const Edge& e : edges) {
    if (std::max(e.r0, e.r1) < by) continue;
    out.add({std::max(0.0, e.r0 - by), e.z0 + by, std::max(0.0, e.r1 - by), e.z1 + by});
  }
  return out;
}

Outline outline_of(const std::vector<solid::Body>& bodies) {
  Outline out;
  for (const solid::Body& body : bodies) {
    for (const solid::ProfileSegment& p : body.meridian) {
      if (p.is_arc)
        add_arc(out, p);
      else
        out.add({p.from.radius, p.from.height, p.to.radius, p.to.height});
    }
  }
  return out;
}

Outline outline_of(const solid::Body& body) { return outline_of(std::vector{body}); }

double gap(const Outline& outline, double rho, double height) {
  double best2 = std::numeric_limits<double>::infinity();
  for (const Outline::Edge& e : outline.edges) {
    // Clip the edge to z <= height and r >= rho: anything left of it lies in the material.
    double from = 0, to = 1;
    const double dr = e.r1 - e.r0, dz = e.z1 - e.z0;
    const auto clip = [&](double slope, double room) {  // keeps slope * t <= room
      if (slope > 0)
        to = std::min(to, room / slope);
      else if (slope < 0)
        from = std::max(from, room / slope);
      else if (room < 0)
        to = -1;
    };
    clip(dz, height - e.z0);
    clip(-dr, e.r0 - rho);
    if (from <= to) return 0;
    for (const auto& [r, z] : {std::pair{e.r0, e.z0}, std::pair{e.r1, e.z1}}) {
      const double side = std::max(0.0, rho - r), up = std::max(0.0, z - height);
      best2 = std::min(best2, side * side + up * up);
    }
    const double length2 = dr * dr + dz * dz;
    const double t =
        length2 > 0 ? std::clamp(((rho - e.r0) * dr + (height - e.z0) * dz) / length2, 0.0, 1.0)
                    : 0;
    const double side = e.r0 + t * dr - rho, up = e.z0 + t * dz - height;
    best2 = std::min(best2, side * side + up * up);
  }
  return std::sqrt(best2);
}

Envelope::Envelope(const solid::ToolBody& body) : radius_(body.flutes.largest_radius) {
  // Heights closer together near the tip, where round ends are steepest.
  constexpr int samples = 1024;
  std::vector<double> height(samples + 1), radius(samples + 1);
  for (int k = 0; k <= samples; ++k) {
    const double share = static_cast<double>(k) / samples;
    height[k] = body.flutes.bottom + (body.flutes.top - body.flutes.bottom) * share * share;
    radius[k] = body.cutting_radius(height[k]);
  }
  double highest_floor = -std::numeric_limits<double>::infinity();
  double lowest_ceiling = std::numeric_limits<double>::infinity();
  for (int s = 0; s <= slots; ++s) {
    const double r = radius_ * s / slots - 1e-9;
    int k = 0;
    while (k <= samples && radius[k] < r) ++k;
    if (k > samples) {
      highest_floor = std::numeric_limits<double>::infinity();
    } else {
      highest_floor = std::max(highest_floor, height[k]);
      while (k < samples && radius[k + 1] >= r) ++k;
      lowest_ceiling = std::min(lowest_ceiling, height[k]);
    }
    floor_.push_back(highest_floor);
    ceiling_.push_back(lowest_ceiling);
  }
}

}  // namespace proveout::clearance
