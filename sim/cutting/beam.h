// The tool as a stepped beam clamped at the holder's face, and as one vibrating mode.
#pragma once

#include <vector>

#include "parser/job/job.h"

namespace proveout::cutting {

// Young's modulus, N/mm2: carbide 600 GPa, HSS 210 GPa (text-book values). Density, kg/mm3.
double youngs_modulus(const std::string& tool_material);
double tool_density(const std::string& tool_material);
// Fluted part as a solid bar of this share of the diameter (Kops and Vo, CIRP Annals 39 (1990) 93).
inline constexpr double fluted_share = 0.8;

struct Beam {
  struct Piece {
    double from = 0, to = 0;  // mm above the tip
    double diameter = 0;      // mm
  };
  std::vector<Piece> pieces;  // tip first
  double length = 0;          // mm, tip to clamp
  double modulus = 0;         // N/mm2
  double density = 0;         // kg/mm3

  // Bend across the axis at height x above the tip under 1 N at height a above the tip, mm/N.
  double compliance(double x, double a) const;
  // The lowest bending modes as they show at the tip: frequency, Hz, and the stiffness, N/mm, of
  // each as a mass on a spring there. Masses lumped at 24 places of every piece, compliances exact.
  struct TipMode {
    double frequency = 0, stiffness = 0;
  };
  std::vector<TipMode> tip_modes(std::size_t count) const;
};
Beam beam_of(const job::Tool& tool);

}  // namespace proveout::cutting
