#include "sim/clearance/fixture_mesh.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace proveout::clearance {
namespace {

constexpr int across = 64;  // cells of the plane each way

using Triangle = std::array<Vec3, 3>;

// What of a triangle lies between two heights: at most five corners.
struct Slice {
  std::array<Vec3, 8> p;
  int count = 0;
};

void clip(Slice& s, double side, double limit) {
  Slice out;
  for (int k = 0; k < s.count; ++k) {
    const Vec3 &a = s.p[k], &b = s.p[(k + 1) % s.count];
    const double da = side * (a.z() - limit), db = side * (b.z() - limit);
    if (da <= 0) out.p[out.count++] = a;
    if ((da < 0 && db > 0) || (da > 0 && db < 0))
      out.p[out.count++] = a + (b - a) * (da / (da - db));
  }
  s = out;
}

double to_edge(double x, double y, const Vec3& a, const Vec3& b) {
  const double dx = b.x() - a.x(), dy = b.y() - a.y();
  const double length2 = dx * dx + dy * dy;
  const double t =
      length2 > 0 ? std::clamp(((x - a.x()) * dx + (y - a.y()) * dy) / length2, 0.0, 1.0) : 0;
  return std::hypot(x - a.x() - t * dx, y - a.y() - t * dy);
}

// Whether (x, y) lies over a convex polygon; edge on it: no.
template <class Points>
bool over(double x, double y, const Points& p, int count) {
  bool left = true, right = true;
  double area = 0;
  for (int k = 0; k < count; ++k) {
    const Vec3 &a = p[k], &b = p[(k + 1) % count];
    const double turn = (b.x() - a.x()) * (y - a.y()) - (b.y() - a.y()) * (x - a.x());
    left &= turn >= 0;
    right &= turn <= 0;
    area += a.x() * b.y() - b.x() * a.y();
  }
  return std::abs(area) > 1e-12 && (left || right);
}

// Horizontal distance of an upright axis from the part of a triangle between two heights.
double side_distance(double x, double y, const Triangle& t, double low, double high) {
  Slice s;
  s.count = 3;
  std::copy(t.begin(), t.end(), s.p.begin());
  clip(s, -1, low);
  clip(s, 1, high);
  if (s.count == 0) return std::numeric_limits<double>::infinity();
  if (over(x, y, s.p, s.count)) return 0;
  double best = std::numeric_limits<double>::infinity();
  for (int k = 0; k < s.count; ++k)
    best = std::min(best, to_edge(x, y, s.p[k], s.p[(k + 1) % s.count]));
  return best;
}

// Highest point of a triangle within radius of an upright axis: at its corners, where its edges
// leave the round, or where the round itself is highest on its plane.
double highest_within(double x, double y, double radius, const Triangle& t) {
  double best = -std::numeric_limits<double>::infinity();
  for (int k = 0; k < 3; ++k) {
    const Vec3 &a = t[k], &b = t[(k + 1) % 3];
    if (std::hypot(a.x() - x, a.y() - y) <= radius) best = std::max(best, a.z());
    const double dx = b.x() - a.x(), dy = b.y() - a.y(), px = a.x() - x, py = a.y() - y;
    const double A = dx * dx + dy * dy, B = px * dx + py * dy;
    const double root2 = B * B - A * (px * px + py * py - radius * radius);
    if (!(A > 0) || root2 < 0) continue;
    for (const double sign : {-1.0, 1.0}) {
      const double s = (-B + sign * std::sqrt(root2)) / A;
      if (s >= 0 && s <= 1) best = std::max(best, a.z() + s * (b.z() - a.z()));
    }
  }
  const Vec3 normal = (t[1] - t[0]).cross(t[2] - t[0]);
  if (normal.z() == 0) return best;
  Vec3 uphill(-normal.x() / normal.z(), -normal.y() / normal.z(), 0);
  const double steep = uphill.norm();
  const Vec3 at = Vec3(x, y, 0) + (steep > 0 ? Vec3(uphill * (radius / steep)) : Vec3::Zero());
  if (over(at.x(), at.y(), t, 3))
    best = std::max(best, t[0].z() + uphill.dot(at - Vec3(t[0].x(), t[0].y(), 0)));
  return best;
}

}  // namespace

FixtureMesh::FixtureMesh(mesh::Mesh mesh)
    : solid_(std::move(mesh)), box_(mesh::bounds(solid_.mesh())), bins_(across * across) {
  cell_x_ = std::max(1e-9, box_.sizes().x() / across);
  cell_y_ = std::max(1e-9, box_.sizes().y() / across);
  const mesh::Mesh& m = solid_.mesh();
  for (std::uint32_t t = 0; t < m.triangles.size(); ++t) {
    Box3 b;
    for (const std::uint32_t v : m.triangles[t]) b.extend(m.vertices[v]);
    for (int j = row(b.min().y()); j <= row(b.max().y()); ++j)
      for (int i = column(b.min().x()); i <= column(b.max().x()); ++i)
        bins_[static_cast<std::size_t>(j * across + i)].push_back(t);
  }
}

int FixtureMesh::column(double x) const {
  return std::clamp(static_cast<int>(std::floor((x - box_.min().x()) / cell_x_)), 0, across - 1);
}
int FixtureMesh::row(double y) const {
  return std::clamp(static_cast<int>(std::floor((y - box_.min().y()) / cell_y_)), 0, across - 1);
}

template <class Each>
void FixtureMesh::for_triangles(double x, double y, double radius, Each each) const {
  const mesh::Mesh& m = solid_.mesh();
  for (int j = row(y - radius); j <= row(y + radius); ++j) {
    for (int i = column(x - radius); i <= column(x + radius); ++i) {
      for (const std::uint32_t t : bins_[static_cast<std::size_t>(j * across + i)]) {
        const auto& corner = m.triangles[t];
        each(Triangle{m.vertices[corner[0]], m.vertices[corner[1]], m.vertices[corner[2]]});
      }
    }
  }
}

double FixtureMesh::depth(double x, double y, double radius, double low, double high) const {
  if (low >= box_.max().z() || high <= box_.min().z()) return 0;
  const double away = std::hypot(std::max({box_.min().x() - x, 0.0, x - box_.max().x()}),
                                 std::max({box_.min().y() - y, 0.0, y - box_.max().y()}));
  if (away >= radius) return 0;
  double side = std::numeric_limits<double>::infinity();
  double top = -std::numeric_limits<double>::infinity();
  for_triangles(x, y, radius, [&](const Triangle& t) {
    side = std::min(side, side_distance(x, y, t, low, high));
    top = std::max(top, highest_within(x, y, radius, t));
  });
  // An axis with no surface on it still lies within where its middle does.
  if (side > 0) {
    const double middle = (std::max(low, box_.min().z()) + std::min(high, box_.max().z())) / 2;
    if (solid_.at(Vec3(x, y, middle)) < 0) side = 0;
  }
  if (side >= radius) return 0;
  return std::max(0.0, std::min(radius - side, top - low));
}

}  // namespace proveout::clearance
