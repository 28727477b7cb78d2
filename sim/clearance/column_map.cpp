#include "sim/clearance/column_map.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace proveout::clearance {
namespace {

constexpr double touch = 1e-9;  // mm: a cell that ends where the reach ends is within it

double point_to_way(double x, double y, const Vec3& a, const Vec3& b) {
  const double dx = b.x() - a.x(), dy = b.y() - a.y(), px = x - a.x(), py = y - a.y();
  const double length2 = dx * dx + dy * dy;
  const double t = length2 > 0 ? std::clamp((px * dx + py * dy) / length2, 0.0, 1.0) : 0;
  const double ex = px - t * dx, ey = py - t * dy;
  return std::sqrt(ex * ex + ey * ey);  // hypot guards against what millimetres never reach
}

bool crosses(const Vec3& a, const Vec3& b, double x_low, double y_low, double x_high,
             double y_high) {
  double from = 0, to = 1;
  const auto clip = [&](double start, double step, double low, double high) {
    if (step == 0) {
      if (start < low || start > high) to = -1;
      return;
    }
    double near = (low - start) / step, far = (high - start) / step;
    if (near > far) std::swap(near, far);
    from = std::max(from, near);
    to = std::min(to, far);
  };
  clip(a.x(), b.x() - a.x(), x_low, x_high);
  clip(a.y(), b.y() - a.y(), y_low, y_high);
  return from <= to;
}

// A triangle cut by four lines has seven corners at most.
struct Polygon {
  std::array<Vec3, 8> corners;
  std::size_t count = 0;
  void add(const Vec3& p) { corners[count++] = p; }
};

// The part of a flat polygon with side * (p[axis] - limit) <= 0 (Sutherland and Hodgman).
Polygon clipped(const Polygon& polygon, int axis, double side, double limit) {
  Polygon out;
  for (std::size_t k = 0; k < polygon.count; ++k) {
    const Vec3 &p = polygon.corners[k], &q = polygon.corners[k + 1 < polygon.count ? k + 1 : 0];
    const double dp = side * (p[axis] - limit), dq = side * (q[axis] - limit);
    if (dp <= 0) out.add(p);
    if ((dp < 0 && dq > 0) || (dp > 0 && dq < 0)) out.add(p + (q - p) * (dp / (dp - dq)));
  }
  return out;
}

}  // namespace

double way_to_rectangle(const Vec3& a, const Vec3& b, double x_low, double y_low, double x_high,
                        double y_high) {
  if (crosses(a, b, x_low, y_low, x_high, y_high)) return 0;
  const auto end = [&](const Vec3& p) {
    return std::hypot(std::max({x_low - p.x(), 0.0, p.x() - x_high}),
                      std::max({y_low - p.y(), 0.0, p.y() - y_high}));
  };
  return std::min({end(a), end(b), point_to_way(x_low, y_low, a, b),
                   point_to_way(x_high, y_low, a, b), point_to_way(x_low, y_high, a, b),
                   point_to_way(x_high, y_high, a, b)});
}

ColumnMap::ColumnMap(const Box3& box, double cell, double margin)
    : x0_(box.min().x()), y0_(box.min().y()), cell_(cell), margin_(margin) {
  lay_out(static_cast<int>(std::ceil(box.sizes().x() / cell)),
          static_cast<int>(std::ceil(box.sizes().y() / cell)));
}

ColumnMap::ColumnMap(const measure::HeightMap& tops, double margin)
    : x0_(tops.x0), y0_(tops.y0), cell_(tops.cell), margin_(margin) {
  lay_out(tops.columns, tops.rows);
  if (!tops.height.empty()) levels_.front().height = tops.height;
  build_tree();
}

void ColumnMap::lay_out(int columns, int rows) {
  Level level;
  level.cell = cell_;
  level.columns = std::max(1, columns);
  level.rows = std::max(1, rows);
  for (;;) {
    level.height.assign(
        static_cast<std::size_t>(level.columns) * static_cast<std::size_t>(level.rows), nothing);
    levels_.push_back(level);
    if (level.columns == 1 && level.rows == 1) break;
    level.cell *= 2;
    level.columns = (level.columns + 1) / 2;
    level.rows = (level.rows + 1) / 2;
  }
}

int ColumnMap::column(double x) const {
  return std::clamp(static_cast<int>(std::floor((x - x0_) / cell_)), 0, columns() - 1);
}
int ColumnMap::row(double y) const {
  return std::clamp(static_cast<int>(std::floor((y - y0_) / cell_)), 0, rows() - 1);
}

Vec3 ColumnMap::middle(int i, int j) const {
  return {x0_ + (i + 0.5) * cell_, y0_ + (j + 0.5) * cell_, at(i, j)};
}

double ColumnMap::highest_within(double x, double y, double radius) const {
  const double wide = radius + margin_;
  if (x + wide < x0_ || y + wide < y0_ || x - wide > x0_ + columns() * cell_ ||
      y - wide > y0_ + rows() * cell_)
    return nothing;
  float most = nothing;
  for (int j = row(y - wide); j <= row(y + wide); ++j) {
    for (int i = column(x - wide); i <= column(x + wide); ++i) {
      if (at(i, j) <= most) continue;
      const double left = x0_ + i * cell_ - x, front = y0_ + j * cell_ - y;
      const double dx = std::max({left, -left - cell_, 0.0});
      const double dy = std::max({front, -front - cell_, 0.0});
      if (dx * dx + dy * dy <= wide * wide) most = at(i, j);
    }
  }
  return most;
}

double ColumnMap::highest() const { return levels_.back().at(0, 0); }

void ColumnMap::raise(double x, double y, double height) {
  float& h = levels_.front().at(column(x), row(y));
  // Rounding to single precision must not lower it.
  h = std::max(h, std::nextafter(static_cast<float>(height), 1e30f));
}

void ColumnMap::raise_triangle(const Vec3& a, const Vec3& b, const Vec3& c) {
  Box3 box(a);
  box.extend(b);
  box.extend(c);
  Polygon triangle;
  for (const Vec3& corner : {a, b, c}) triangle.add(corner);
  const int i_low = column(box.min().x()), i_high = column(box.max().x());
  for (int j = row(box.min().y()); j <= row(box.max().y()); ++j) {
    const Polygon strip =
        clipped(clipped(triangle, 1, -1, y0_ + j * cell_), 1, 1, y0_ + (j + 1) * cell_);
    for (int i = i_low; i <= i_high && strip.count > 0; ++i) {
      const Polygon piece =
          clipped(clipped(strip, 0, -1, x0_ + i * cell_), 0, 1, x0_ + (i + 1) * cell_);
      for (std::size_t k = 0; k < piece.count; ++k) {
        float& h = levels_.front().at(i, j);
        h = std::max(h, std::nextafter(static_cast<float>(piece.corners[k].z()), 1e30f));
      }
    }
  }
}

void ColumnMap::raise(const mesh::Mesh& mesh) {
  for (const auto& t : mesh.triangles)
    raise_triangle(mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]);
}

void ColumnMap::build_tree() { refresh(0, 0, columns() - 1, rows() - 1); }

void ColumnMap::refresh(int i0, int j0, int i1, int j1) {
  for (std::size_t k = 1; k < levels_.size(); ++k) {
    i0 /= 2;
    j0 /= 2;
    i1 /= 2;
    j1 /= 2;
    const Level& below = levels_[k - 1];
    for (int j = j0; j <= j1; ++j) {
      for (int i = i0; i <= i1; ++i) {
        const int i_next = std::min(2 * i + 1, below.columns - 1);
        const int j_next = std::min(2 * j + 1, below.rows - 1);
        levels_[k].at(i, j) = std::max({below.at(2 * i, 2 * j), below.at(i_next, 2 * j),
                                        below.at(2 * i, j_next), below.at(i_next, j_next)});
      }
    }
  }
}

bool ColumnMap::anything_above(double z, const Box3& box) const {
  return anything_above(z, box, levels_.size() - 1, 0, 0);
}

bool ColumnMap::anything_above(double z, const Box3& box, std::size_t level, int i, int j) const {
  const Level& l = levels_[level];
  if (!(l.at(i, j) > z)) return false;
  const double x = x0_ + i * l.cell, y = y0_ + j * l.cell;
  if (x > box.max().x() || y > box.max().y() || x + l.cell < box.min().x() ||
      y + l.cell < box.min().y())
    return false;
  if (level == 0) return true;
  const Level& below = levels_[level - 1];
  for (int child = 0; child < 4; ++child) {
    const int ci = 2 * i + (child & 1), cj = 2 * j + (child >> 1);
    if (ci < below.columns && cj < below.rows && anything_above(z, box, level - 1, ci, cj))
      return true;
  }
  return false;
}

bool ColumnMap::meets(const Envelope& cutter, const Vec3& a, const Vec3& b) const {
  Box3 box(a);
  box.extend(b);
  const double r = cutter.radius();
  return anything_above(box.min().z() + cutter.floor(0),
                        Box3(box.min() - Vec3(r, r, 0), box.max() + Vec3(r, r, 0)));
}

// Of a cell from a way; where its middle settles that it lies within or beyond radius, a bound.
double ColumnMap::farthest_corner(int i, int j, const Vec3& a, const Vec3& b, double radius) const {
  const double half = 0.5 * cell_, spare = cell_ * std::sqrt(0.5);
  const double x = x0_ + (i + 0.5) * cell_, y = y0_ + (j + 0.5) * cell_;
  const double middle = point_to_way(x, y, a, b);
  if (middle + spare <= radius || middle > radius) return middle + spare;
  return std::max({point_to_way(x - half, y - half, a, b), point_to_way(x + half, y - half, a, b),
                   point_to_way(x - half, y + half, a, b), point_to_way(x + half, y + half, a, b)});
}

void ColumnMap::cut(const Envelope& cutter, const Vec3& a, const Vec3& b, double narrower) {
  const double radius = cutter.radius() - narrower;
  const double z_low = std::min(a.z(), b.z()), z_high = std::max(a.z(), b.z());
  if (radius <= 0) return;
  Box3 box(a);
  box.extend(b);
  box.min() -= Vec3(radius, radius, 0);
  box.max() += Vec3(radius, radius, 0);
  if (box.max().x() < x0_ || box.max().y() < y0_ || box.min().x() > x0_ + columns() * cell_ ||
      box.min().y() > y0_ + rows() * cell_ || !anything_above(z_high + cutter.floor(0), box))
    return;
  const int i0 = column(box.min().x()), i1 = column(box.max().x());
  const int j0 = row(box.min().y()), j1 = row(box.max().y());
  const double lowest = z_high + cutter.floor(0);
  bool changed = false;
  for (int j = j0; j <= j1; ++j) {
    for (int i = i0; i <= i1; ++i) {
      float& h = levels_.front().at(i, j);
      if (!(h > lowest)) continue;
      const double far = farthest_corner(i, j, a, b, radius) + narrower;
      if (far > cutter.radius() + touch) continue;
      const auto [floor, ceiling] = cutter.between(far);
      if (h > z_low + ceiling) continue;
      const float left = std::nextafter(static_cast<float>(z_high + floor), 1e30f);
      if (left >= h) continue;
      h = left;
      changed = true;
    }
  }
  if (changed) refresh(i0, j0, i1, j1);
}

struct ColumnMap::Query {
  const Outline& body;
  const Vec3 &a, &b;
  double z;  // of the tip
  double best;
  int i = -1, j = -1;
};

double ColumnMap::bound(const Query& q, std::size_t level, int i, int j) const {
  const Level& l = levels_[level];
  const float height = l.at(i, j);
  if (height <= nothing) return std::numeric_limits<double>::infinity();
  const double up = q.z + q.body.bottom - height;
  if (up >= q.best) return up;
  const double x = x0_ + i * l.cell, y = y0_ + j * l.cell;
  const double rho =
      std::max(0.0, way_to_rectangle(q.a, q.b, x, y, x + l.cell, y + l.cell) - margin_);
  if (rho - q.body.radius >= q.best) return rho - q.body.radius;
  return gap(q.body, rho, height - q.z);
}

void ColumnMap::search(Query& q, std::size_t level, int i, int j) const {
  if (level == 0) {
    q.best = bound(q, 0, i, j);
    q.i = i;
    q.j = j;
    return;
  }
  struct Child {
    double bound;
    int i, j;
  };
  std::array<Child, 4> children;
  int count = 0;
  const Level& below = levels_[level - 1];
  for (int child = 0; child < 4; ++child) {
    const int ci = 2 * i + (child & 1), cj = 2 * j + (child >> 1);
    if (ci >= below.columns || cj >= below.rows) continue;
    const Child next{bound(q, level - 1, ci, cj), ci, cj};
    if (next.bound >= q.best) continue;
    int k = count++;
    for (; k > 0 && children[k - 1].bound > next.bound; --k) children[k] = children[k - 1];
    children[k] = next;
  }
  for (int k = 0; k < count; ++k) {
    if (children[k].bound < q.best) search(q, level - 1, children[k].i, children[k].j);
  }
}

double ColumnMap::nearest(const Outline& body, const Vec3& a, const Vec3& b, double best,
                          Vec3* at) const {
  Query q{body, a, b, std::min(a.z(), b.z()), best};
  const std::size_t top = levels_.size() - 1;
  if (body.empty() || !(best > 0) || bound(q, top, 0, 0) >= best) return best;
  search(q, top, 0, 0);
  if (at != nullptr && q.i >= 0) *at = middle(q.i, q.j);
  return q.best;
}

}  // namespace proveout::clearance
