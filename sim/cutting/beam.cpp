#include "sim/cutting/beam.h"

#include <algorithm>
#include <cmath>

#include "parser/base/geometry.h"

namespace proveout::cutting {

double youngs_modulus(const std::string& m) { return m == "hss" ? 210e3 : 600e3; }
double tool_density(const std::string& m) { return m == "hss" ? 8.0e-6 : 14.5e-6; }

Beam beam_of(const job::Tool& t) {
  Beam b;
  b.modulus = youngs_modulus(t.tool_material);
  b.density = tool_density(t.tool_material);
  const double shank = t.shank_diameter > 0 ? t.shank_diameter : t.diameter;
  double flute = t.flute_length > 0 ? t.flute_length : t.stickout;
  b.length = std::max(t.stickout, flute);
  flute = std::min(flute, b.length);
  b.pieces.push_back({0, flute, fluted_share * t.diameter});
  if (b.length > flute) b.pieces.push_back({flute, b.length, shank});
  return b;
}

// Unit-load method: the integral of M1 M2 / (E I) from the clamp down. Measured from the tip, the
// moment at s of a unit force at a is (s - a) for s > a.
double Beam::compliance(double x, double a) const {
  double sum = 0;
  for (const Piece& p : pieces) {
    const double low = std::max({p.from, x, a}), high = p.to;
    if (high <= low) continue;
    const double inertia = pi * std::pow(p.diameter, 4) / 64;
    // Integral of (s - x)(s - a) ds.
    const auto primitive = [&](double s) {
      return s * s * s / 3 - (x + a) * s * s / 2 + x * a * s;
    };
    sum += (primitive(high) - primitive(low)) / (modulus * inertia);
  }
  return sum;
}

double Beam::natural_frequency() const {
  const double tip = compliance(0, 0);
  double mass = 0;  // equivalent at the tip: integral of m (w / w_tip)^2
  for (const Piece& p : pieces) {
    const int slices = 64;
    const double area = pi * p.diameter * p.diameter / 4, dz = (p.to - p.from) / slices;
    for (int i = 0; i < slices; ++i) {
      const double shape = compliance(p.from + (i + 0.5) * dz, 0) / tip;
      mass += density * area * dz * shape * shape;
    }
  }
  const double stiffness = 1000 / tip;  // N/m
  return std::sqrt(stiffness / mass) / (2 * pi);
}

}  // namespace proveout::cutting
