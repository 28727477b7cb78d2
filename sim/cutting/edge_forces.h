// What an engaged area asks of the edges that pass through it. Linear edge law (Altintas,
// "Manufacturing Automation"; Budak, Altintas and Armarego 1996): a mm of edge taking a chip h
// thick feels ktc h + kte along its motion and krc h + kre along the inward normal of the tool's
// face.
//
// With n the outward normal of that face (normal_radius away from the axis, normal_height up), fz
// the feed per tooth along the path, d the angle the path goes down at and b the bearing,
//   h = fz (cos d normal_radius cos b - sin d normal_height),  no cut where h <= 0.
#pragma once

#include <array>

#include "sim/cutting/engaged_area.h"

namespace proveout::cutting {

struct ToothFeed {
  double per_tooth = 0;  // mm along the path
  double descent = 0;    // rad, -pi/2..pi/2: down is positive
};
// The law's shape: force goes with h^(1 - mc), and what the edge itself feels fades below fade mm.
struct LawShape {
  double mc = 0, fade = 0;
};

// Integrals over the area where h > 0; one tooth passes it once a turn, so per second they are
// taken teeth times turns a second times.
struct ChipIntegrals {
  double volume = 0;     // mm3: of h
  double chip = 0;       // mm^(3 - mc): of h^(1 - mc); the same as volume for mc = 0
  double edge = 0;       // mm2: of min(1, h / fade)
  double area = 0;       // mm2: the area itself
  double most_chip = 0;  // mm: largest h
};
ChipIntegrals chip_integrals(const EngagedArea& area, const solid::EdgeProfile& profile,
                             const ToothFeed& feed, const LawShape& law);

struct Teeth {
  int count = 2;
  double lag = 0;         // rad per mm of height: how far an edge lags behind its foot
  bool clockwise = true;  // seen from above
};
// Forces on the tool across its axis, at moments of a tooth pitch: along the feed and to the left
// of it, for a law of ktc, kte, krc, kre of one each, so that any coefficients' follow by adding
// up.
struct ForceMoment {
  std::array<double, 2> chip{}, edge{}, chip_in{}, edge_in{};
  double wall_height = -1;  // mm above the tip: where a tooth passes the finished wall; -1: none
  std::array<double, 2> force(double ktc, double kte, double krc, double kre) const {
    std::array<double, 2> f{};
    for (std::size_t k = 0; k < 2; ++k)
      f[k] = ktc * chip[k] + kte * edge[k] + krc * chip_in[k] + kre * edge_in[k];
    return f;
  }
};
struct ForceWalk {
  static constexpr int steps = 24;  // even ones; their mean is the mean force
  // and those at which the lowest and the highest edge enter and leave the area: the peaks of short
  // cuts
  std::array<ForceMoment, steps + 4> at{};
};
ForceWalk walk_forces(const EngagedArea& area, const solid::EdgeProfile& profile,
                      const ToothFeed& feed, const LawShape& law, const Teeth& teeth);

}  // namespace proveout::cutting
