#include "sim/measure/bores.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "sim/measure/measure.h"
#include "sim/measure/probe.h"

namespace proveout::measure {
namespace {

constexpr std::array<double, 10> rods{4, 5, 6, 8, 10, 12, 16, 20, 25, 32};  // mm
constexpr double least_depth = 2;                                           // mm (choice)
// A mouth whose rim differs by more in height goes through a wall that stands there (choice).
constexpr double most_step = 1;  // mm

// What stands over each cell's middle without a gap, from its top down.
class Columns {
 public:
  Columns(const stock::Stock& stock, const RigidMotion& stock_from_setup, double cell)
      : cell_(cell) {
    const Box3 box = extent(stock, stock_from_setup.linear().transpose(), std::nullopt);
    if (box.isEmpty()) return;
    // Turned as the setup, about the stock's own origin.
    const Vec3 shift = stock_from_setup.linear().transpose() * stock_from_setup.translation();
    low_ = box.min() - shift;
    const Vec3 high = box.max() - shift;
    columns_ = static_cast<int>(std::ceil((high.x() - low_.x()) / cell));
    rows_ = static_cast<int>(std::ceil((high.y() - low_.y()) / cell));
    const StockProbe probe(stock);
    const double step = 0.5 * std::max(stock.voxel(), cell / 4);
    for (int j = 0; j < rows_; ++j) {
      for (int i = 0; i < columns_; ++i) {
        const Vec3 middle = at(i, j);
        double top = none, bottom = none;
        for (double z = high.z() + step; z > low_.z() - 2 * step; z -= step) {
          const bool in = probe.at(stock_from_setup * Vec3(middle.x(), middle.y(), z)) < 0;
          if (in && top == none) top = z;
          if (in) bottom = z;
          if (!in && top != none) break;
        }
        column_.emplace_back(top, top == none ? -none : bottom);
      }
    }
  }

  // The deepest bore of that radius about a cell, and the height of its mouth; depth 0: none.
  std::pair<double, double> depth(int i, int j, double radius, double wall) const {
    const double reach = radius + wall + 0.71 * cell_;
    const int n = static_cast<int>(std::floor(reach / cell_));
    if (i < n || j < n || i + n >= columns_ || j + n >= rows_) return {0, 0};
    double top = std::numeric_limits<double>::infinity(), bottom = -top, highest = -top;
    for (int y = -n; y <= n; ++y) {
      for (int x = -n; x <= n; ++x) {
        if (cell_ * std::hypot(x, y) > reach) continue;
        const auto& [high, low] = column_[index(i + x, j + y)];
        top = std::min(top, high);
        highest = std::max(highest, high);
        bottom = std::max(bottom, low);
        if (top - bottom - wall < least_depth || highest - top > most_step) return {0, 0};
      }
    }
    return {top - bottom - wall, top};
  }

  void take(int i, int j, double radius) {
    const int n = static_cast<int>(std::ceil(radius / cell_)) + 1;
    for (int y = std::max(0, j - n); y <= std::min(rows_ - 1, j + n); ++y) {
      for (int x = std::max(0, i - n); x <= std::min(columns_ - 1, i + n); ++x) {
        if (cell_ * std::hypot(x - i, y - j) <= radius + 0.71 * cell_)
          column_[index(x, y)] = {none, -none};
      }
    }
  }

  int columns() const { return columns_; }
  int rows() const { return rows_; }
  Vec3 at(int i, int j) const { return low_ + cell_ * Vec3(i + 0.5, j + 0.5, 0); }

 private:
  static constexpr double none = -1e9;
  std::size_t index(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(columns_) +
           static_cast<std::size_t>(i);
  }
  double cell_;
  Vec3 low_ = Vec3::Zero();
  int columns_ = 0, rows_ = 0;
  std::vector<std::pair<double, double>> column_;  // top and bottom, mm, setup frame
};

}  // namespace

std::vector<Bore> bores(const stock::Stock& stock, const RigidMotion& stock_from_setup, double cell,
                        double wall, std::size_t most) {
  std::vector<Bore> out;
  Columns columns(stock, stock_from_setup, cell);
  while (out.size() < most) {
    Bore best;
    int best_i = 0, best_j = 0;
    for (const double diameter : rods) {
      bool any = false;
      for (int j = 0; j < columns.rows(); ++j) {
        for (int i = 0; i < columns.columns(); ++i) {
          const auto [depth, top] = columns.depth(i, j, diameter / 2, wall);
          if (!(depth > 0)) continue;
          any = true;
          const Vec3 middle = columns.at(i, j);
          const Bore one{Vec3(middle.x(), middle.y(), top), diameter, depth};
          if (one.volume_mm3() <= best.volume_mm3() + 1e-9) continue;
          best = one;
          best_i = i;
          best_j = j;
        }
      }
      if (!any) break;  // a wider one finds none either
    }
    if (!(best.depth > 0)) break;
    columns.take(best_i, best_j, best.diameter / 2);
    out.push_back(best);
  }
  return out;
}

}  // namespace proveout::measure
