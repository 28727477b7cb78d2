// Parts whose every level is a rectangle with rounded corners, as closed meshes: a bracket with a
// thin web, a ring with a drafted wall. Invented, for planted mistakes.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

namespace proveout::planted {

// An upright rectangle with rounded corners; all radii the half of both sides: a circle. mm.
struct Outline {
  double x = 0, y = 0;                   // middle
  double half_x = 0, half_y = 0;         // of its sides
  std::array<double, 4> radii{};         // corners, counter-clockwise from that at +x, +y
  static constexpr int per_corner = 16;  // points

  static Outline circle(double x, double y, double radius) {
    return {x, y, radius, radius, {radius, radius, radius, radius}};
  }
  // Moved outwards along its normals (inwards where negative); what cannot be rounded less stays
  // a little round.
  Outline offset(double by) const {
    Outline out = *this;
    out.half_x += by;
    out.half_y += by;
    for (double& r : out.radii) r = std::max(r + by, 0.2);
    return out;
  }
  // Mirrored in y about the line y = c / 2.
  Outline turned_about_x(double c) const {
    return {x, c - y, half_x, half_y, {radii[3], radii[2], radii[1], radii[0]}};
  }
  // Counter-clockwise; the same index has the same normal on every outline.
  std::array<double, 2> point(int k) const {
    const auto corner = static_cast<std::size_t>(k / per_corner % 4);
    const double turn =
        0.5 * M_PI * (static_cast<double>(corner) + (k % per_corner) / (per_corner - 1.0));
    const double r = radii[corner];
    const double sx = corner == 0 || corner == 3 ? 1 : -1, sy = corner < 2 ? 1 : -1;
    return {x + sx * (half_x - r) + r * std::cos(turn), y + sy * (half_y - r) + r * std::sin(turn)};
  }
  static constexpr int points = 4 * per_corner;
};

struct Level {
  Outline at;
  double z = 0;  // mm
};

// The closed surface that runs from level to level and from the last to the first: a torus, as a
// text STL file. In order seen from outside: up the inside, down the outside.
inline std::string closed_surface(const std::vector<Level>& levels) {
  std::string out = "solid part\n";
  const auto vertex = [](const Level& l, int k) {
    const auto [x, y] = l.at.point(k % Outline::points);
    return fmt::format("vertex {:.6f} {:.6f} {:.6f}\n", x, y, l.z);
  };
  const auto triangle = [&](const Level& a, int i, const Level& b, int k, const Level& c, int l) {
    const std::string u = vertex(a, i), v = vertex(b, k), w = vertex(c, l);
    if (u == v || v == w || w == u) return;  // between two corners of a circle
    out += "facet normal 0 0 0\nouter loop\n" + u + v + w + "endloop\nendfacet\n";
  };
  for (std::size_t n = 0; n < levels.size(); ++n) {
    const Level &from = levels[n], &to = levels[(n + 1) % levels.size()];
    for (int k = 0; k < Outline::points; ++k) {
      triangle(from, k, to, k, from, k + 1);
      triangle(from, k + 1, to, k, to, k + 1);
    }
  }
  return out + "endsolid part\n";
}

}  // namespace proveout::planted
