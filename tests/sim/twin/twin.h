// A second, slow account of what a job leaves, that shares no code with sim/stock: columns of
// material on a dense grid, cut by stepping the tool along each move. For tools without undercut,
// working from the top and from the bottom, one stretch of material per column is exact.
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

namespace proveout::twin {

enum class Shape { flat, ball, bull, vee };

struct Tool {
  Shape shape = Shape::flat;
  double diameter = 6, corner = 0;  // mm
  double angle = 90;                // vee: included, degrees
  // Height of the cutting surface above the tip at distance r from the axis, mm.
  double height(double r) const {
    const double radius = diameter / 2;
    switch (shape) {
      case Shape::flat:
        return 0;
      case Shape::ball:
        return radius - std::sqrt(std::max(0.0, radius * radius - r * r));
      case Shape::bull: {
        const double out = r - (radius - corner);
        return out <= 0 ? 0 : corner - std::sqrt(std::max(0.0, corner * corner - out * out));
      }
      case Shape::vee:
        return r / std::tan(angle * std::numbers::pi / 360);
    }
    return 0;
  }
};

struct Point {
  double x = 0, y = 0, z = 0;
};

// From where the tool stands to end; an arc turns by sweep (radians, left positive) about cx, cy.
struct Move {
  Point end;
  bool is_arc = false;
  double cx = 0, cy = 0, sweep = 0;
};

inline double length(const Point& a, const Move& m) {
  const double dz = m.end.z - a.z;
  if (m.is_arc) return std::hypot(std::hypot(a.x - m.cx, a.y - m.cy) * m.sweep, dz);
  return std::hypot(m.end.x - a.x, m.end.y - a.y, dz);
}

inline Point at(const Point& a, const Move& m, double share) {
  const double z = a.z + share * (m.end.z - a.z);
  if (!m.is_arc) return {a.x + share * (m.end.x - a.x), a.y + share * (m.end.y - a.y), z};
  const double c = std::cos(share * m.sweep), s = std::sin(share * m.sweep);
  const double u = a.x - m.cx, v = a.y - m.cy;
  return {m.cx + u * c - v * s, m.cy + u * s + v * c, z};
}

class Block {
 public:
  // size in mm; cell: edge of a column. Each column is looked at in one point, jittered within its
  // cell so that walls along the axes are not all met on the same side.
  Block(const Point& size, double cell, unsigned seed) : size_(size) {
    nx_ = static_cast<int>(std::ceil(size.x / cell));
    ny_ = static_cast<int>(std::ceil(size.y / cell));
    dx_ = size.x / nx_;
    dy_ = size.y / ny_;
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> share(0, 1);
    for (int j = 0; j < ny_; ++j) {
      for (int i = 0; i < nx_; ++i) {
        columns_.push_back({(i + share(random)) * dx_, (j + share(random)) * dy_, 0, size.z});
      }
    }
  }

  // Stock coordinates; from_below: the tool's axis points down and z of the path counts upwards
  // from the bottom face into the block (the surface cut is path z plus nothing mirrored again).
  void cut(const Tool& tool, const Point& start, const Move& move, bool from_below, double step) {
    const int steps = std::max(1, static_cast<int>(std::ceil(length(start, move) / step)));
    for (int k = 0; k <= steps; ++k) {
      stand(tool, at(start, move, static_cast<double>(k) / steps), from_below);
    }
  }

  double volume() const {  // mm3
    double sum = 0;
    for (const Column& c : columns_) sum += std::max(0.0, c.top - c.bottom);
    return sum * dx_ * dy_;
  }

  struct Column {
    double x, y, bottom, top;
  };
  const std::vector<Column>& columns() const { return columns_; }

 private:
  void stand(const Tool& tool, const Point& tip, bool from_below) {
    const double radius = tool.diameter / 2;
    const auto first = [&](double v, double d) {
      return static_cast<int>(std::floor((v - radius) / d));
    };
    const auto last = [&](double v, double d) {
      return static_cast<int>(std::floor((v + radius) / d));
    };
    for (int j = std::max(0, first(tip.y, dy_)); j <= std::min(ny_ - 1, last(tip.y, dy_)); ++j) {
      for (int i = std::max(0, first(tip.x, dx_)); i <= std::min(nx_ - 1, last(tip.x, dx_)); ++i) {
        Column& c = columns_[static_cast<std::size_t>(j) * nx_ + i];
        const double r = std::hypot(c.x - tip.x, c.y - tip.y);
        if (r > radius) continue;
        const double h = tool.height(r);
        if (from_below)
          c.bottom = std::max(c.bottom, tip.z - h);
        else
          c.top = std::min(c.top, tip.z + h);
      }
    }
  }

  Point size_;
  int nx_ = 0, ny_ = 0;
  double dx_ = 0, dy_ = 0;
  std::vector<Column> columns_;
};

}  // namespace proveout::twin
