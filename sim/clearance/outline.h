// A body of revolution about an upright axis, seen in the half plane of its meridian.
#pragma once

#include <cstddef>
#include <utility>
#include <vector>

#include "sim/solid/tool_body.h"

namespace proveout::clearance {

struct Outline {
  struct Edge {
    double r0 = 0, z0 = 0, r1 = 0, z1 = 0;  // mm: radius, height above the tip
  };
  std::vector<Edge> edges;                 // boundary away from the axis
  double bottom = 0, top = 0, radius = 0;  // mm: lowest, highest, widest
  bool empty() const { return edges.empty(); }

  void add(const Edge& edge);
  // The same drawn in by `by` (mm) to the side and lifted by as much: what is surely hit by it is
  // hit by more than `by`.
  Outline drawn_in(double by) const;
};

// Arcs of the meridian become chords that lie outside of it by no more than 0.01 mm.
Outline outline_of(const solid::Body& body);
Outline outline_of(const std::vector<solid::Body>& bodies);

// Distance, mm, between the body with its tip at height 0 and everything at least rho away from its
// axis (mm, >= 0) and no higher than height (mm): the nearest column of such material. 0: they
// overlap. Grows with rho, falls with height.
double gap(const Outline& outline, double rho, double height);

// What the cutting part leaves behind as a function of the distance from its axis.
class Envelope {
 public:
  explicit Envelope(const solid::ToolBody& body);
  double radius() const { return radius_; }
  // mm above the tip. Material at distance r or nearer and between the two is gone after the tool
  // stood here. Never overstated. r: mm, 0..radius().
  double floor(double r) const { return between(r).first; }
  double ceiling(double r) const { return between(r).second; }
  std::pair<double, double> between(double r) const {
    // The distance rounded up to a whole slot.
    const double wanted = radius_ > 0 ? r / radius_ * slots : slots;
    std::size_t slot = slots;
    if (!(wanted > 0)) {
      slot = 0;
    } else if (wanted < slots) {
      slot = static_cast<std::size_t>(wanted);
      slot += static_cast<double>(slot) < wanted ? 1 : 0;
    }
    return {floor_[slot], ceiling_[slot]};
  }

 private:
  static constexpr int slots = 128;
  double radius_ = 0;
  std::vector<double> floor_, ceiling_;
};

}  // namespace proveout::clearance
