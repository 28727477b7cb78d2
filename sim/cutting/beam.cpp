#include "sim/cutting/beam.h"

#include <Eigen/Eigenvalues>
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

// w = omega^2 A M w with the flexibility A; symmetric in M^1/2 w. Each mode's share of the tip's
// compliance is phi_tip^2 / (omega^2 modal mass).
std::vector<Beam::TipMode> Beam::tip_modes(std::size_t count) const {
  constexpr int places_per_piece = 24;
  std::vector<double> at{0}, mass{0};
  for (const Piece& p : pieces) {
    const double step = (p.to - p.from) / places_per_piece;
    const double m = density * pi * p.diameter * p.diameter / 4 * step;
    for (int i = 0; i < places_per_piece; ++i) {
      at.push_back(p.from + (i + 0.5) * step);
      mass.push_back(m);
    }
  }
  // The tip itself has no mass: its motion follows from the forces of inertia on the rest.
  const auto n = static_cast<Eigen::Index>(at.size()) - 1;
  Eigen::MatrixXd symmetric(n, n);
  const auto root = [&](Eigen::Index i) {
    return std::sqrt(mass[static_cast<std::size_t>(i) + 1]);
  };
  for (Eigen::Index i = 0; i < n; ++i) {
    for (Eigen::Index k = 0; k <= i; ++k) {
      symmetric(i, k) = symmetric(k, i) =
          root(i) * root(k) *
          compliance(at[static_cast<std::size_t>(i) + 1], at[static_cast<std::size_t>(k) + 1]);
    }
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(symmetric);
  std::vector<TipMode> out;
  for (Eigen::Index r = n - 1; r >= 0 && out.size() < count; --r) {
    const double flexibility = solver.eigenvalues()[r];  // 1 / omega^2, mm kg / N = 1e-3 s2
    if (!(flexibility > 0)) break;
    double tip = 0;  // of the mode with modal mass 1
    for (Eigen::Index i = 0; i < n; ++i) {
      tip += compliance(0, at[static_cast<std::size_t>(i) + 1]) * root(i) *
             solver.eigenvectors()(i, r) / flexibility;
    }
    if (tip == 0) continue;
    out.push_back({std::sqrt(1000 / flexibility) / (2 * pi), 1 / (tip * tip * flexibility)});
  }
  return out;
}

}  // namespace proveout::cutting
