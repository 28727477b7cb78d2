#include "parser/mesh/polygon.h"

#include <cmath>

namespace proveout::mesh {
namespace {

constexpr std::size_t most_for_ears =
    2000;  // the time goes with the square of the corners, or worse

using Vec2 = Eigen::Vector2d;

double cross(const Vec2& a, const Vec2& b, const Vec2& c) {
  return (b.x() - a.x()) * (c.y() - a.y()) - (b.y() - a.y()) * (c.x() - a.x());
}

// The corners seen along the normal of the polygon's area (Newell), turning left.
std::vector<Vec2> flattened(std::span<const std::uint32_t> corners, std::span<const Vec3> places) {
  Vec3 normal = Vec3::Zero();
  for (std::size_t i = 0; i < corners.size(); ++i)
    normal += places[corners[i]].cross(places[corners[(i + 1) % corners.size()]]);
  const Vec3 away =
      normal.cwiseAbs().maxCoeff() == std::abs(normal.x()) ? Vec3::UnitY() : Vec3::UnitX();
  const Vec3 u = away.cross(normal).normalized(), v = normal.normalized().cross(u);
  std::vector<Vec2> out;
  for (const std::uint32_t c : corners)
    out.emplace_back(u.dot(places[c] - places[corners[0]]), v.dot(places[c] - places[corners[0]]));
  return out;
}

bool is_ear(const std::vector<Vec2>& flat, const std::vector<std::uint32_t>& left, std::size_t k) {
  const std::size_t n = left.size();
  const Vec2 &a = flat[left[(k + n - 1) % n]], &b = flat[left[k]], &c = flat[left[(k + 1) % n]];
  if (!(cross(a, b, c) > 0)) return false;
  for (const std::uint32_t other : left) {
    const Vec2& p = flat[other];
    if (p == a || p == b || p == c) continue;
    if (cross(a, b, p) >= 0 && cross(b, c, p) >= 0 && cross(c, a, p) >= 0) return false;
  }
  return true;
}

}  // namespace

std::vector<std::array<std::uint32_t, 3>> triangles_of(std::span<const std::uint32_t> corners,
                                                       std::span<const Vec3> places) {
  std::vector<std::array<std::uint32_t, 3>> out;
  std::vector<std::uint32_t> left;  // into corners
  for (std::uint32_t i = 0; i < corners.size(); ++i) left.push_back(i);
  std::vector<Vec2> flat;
  if (corners.size() > 3 && corners.size() <= most_for_ears) flat = flattened(corners, places);
  const auto cut = [&](std::size_t k) {
    const std::size_t n = left.size();
    out.push_back({corners[left[(k + n - 1) % n]], corners[left[k]], corners[left[(k + 1) % n]]});
    left.erase(left.begin() + static_cast<std::ptrdiff_t>(k));
  };
  while (!flat.empty() && left.size() > 3) {
    std::size_t ear = 0;
    while (ear < left.size() && !is_ear(flat, left, ear)) ++ear;
    if (ear == left.size()) break;  // neither flat nor simple
    cut(ear);
  }
  // A fan of what is left: of a triangle, that triangle.
  for (std::size_t k = 1; k + 1 < left.size(); ++k)
    out.push_back({corners[left[0]], corners[left[k]], corners[left[k + 1]]});
  return out;
}

}  // namespace proveout::mesh
