#include "sim/flip/web.h"

#include <algorithm>
#include <cmath>

namespace proveout::flip {
namespace {

constexpr double nowhere = -1e8;
constexpr double clear_of_seam = 3;    // mm: nearer to where the sides meet there is no web to keep
constexpr double wall_search = 6;      // mm
constexpr double beyond_thinnest = 2;  // mm

}  // namespace

std::size_t Web::index(int i, int j) const {
  return static_cast<std::size_t>(j) * static_cast<std::size_t>(left_.columns) +
         static_cast<std::size_t>(i);
}

Vec2 Web::centre(int i, int j) const {
  return {left_.x0 + (i + 0.5) * left_.cell, left_.y0 + (j + 0.5) * left_.cell};
}

// Where nothing is left between the sides, and round it.
std::vector<char> Web::cut_through() const {
  const int reach = static_cast<int>(std::ceil(clear_of_seam / left_.cell));
  std::vector<char> through(left_.height.size(), 0);
  for (int j = 0; j < left_.rows; ++j) {
    for (int i = 0; i < left_.columns; ++i) {
      // Air above nothing is no web either.
      if (left_.at(i, j) > nowhere && left_.at(i, j) - reached_.at(i, j) > 0) continue;
      for (int y = std::max(0, j - reach); y <= std::min(left_.rows - 1, j + reach); ++y) {
        for (int x = std::max(0, i - reach); x <= std::min(left_.columns - 1, i + reach); ++x)
          through[index(x, y)] = 1;
      }
    }
  }
  return through;
}

// From each cell of the earlier side's cut, the nearest of the later side's that reaches more than
// a cell above its floor: so much of a wall stands between them.
void Web::find_walls(const std::vector<char>& through, float blank_top) {
  const int reach = static_cast<int>(std::ceil(wall_search / left_.cell));
  std::vector<std::pair<int, int>> near;
  for (int y = -reach; y <= reach; ++y) {
    for (int x = -reach; x <= reach; ++x) {
      if (x != 0 || y != 0) near.emplace_back(x, y);
    }
  }
  std::stable_sort(near.begin(), near.end(), [](const auto& a, const auto& b) {
    return a.first * a.first + a.second * a.second < b.first * b.first + b.second * b.second;
  });
  const auto is_later_cut = [&](int i, int j, double above) {
    return i >= 0 && j >= 0 && i < left_.columns && j < left_.rows && through[index(i, j)] == 0 &&
           reached_.at(i, j) > above + left_.cell;
  };
  double thinnest = 1e300;
  for (int j = 0; j < left_.rows; ++j) {
    for (int i = 0; i < left_.columns; ++i) {
      const float floor = left_.at(i, j);
      if (through[index(i, j)] != 0 || floor > blank_top - 1e-3f) continue;
      for (const auto& [x, y] : near) {
        if (!is_later_cut(i + x, j + y, floor)) continue;
        walls_.push_back({centre(i, j), centre(i + x, j + y)});
        thinnest = std::min(thinnest, std::hypot(x, y) * left_.cell);
        break;
      }
    }
  }
  std::erase_if(walls_,
                [&](const Wall& w) { return (w.to - w.from).norm() > thinnest + beyond_thinnest; });
}

Web::Web(const measure::HeightMap& left, const measure::HeightMap& reached, const Vec2& middle)
    : left_(left), reached_(reached), middle_(middle) {
  const std::vector<char> through = cut_through();
  float top = -1e9f;
  for (float h : left_.height) top = std::max(top, h);
  for (int j = 0; j < left_.rows; ++j) {
    for (int i = 0; i < left_.columns; ++i) {
      if (through[index(i, j)] != 0 || reached_.at(i, j) < nowhere || left_.at(i, j) > top - 1e-3f)
        continue;
      floors_.emplace_back(i, j);
    }
  }
  find_walls(through, top);
}

double Web::least(const Off& off) const {
  double least = 1e300;
  for (const auto& [i, j] : floors_) {
    // The highest the moved cut comes here: from the cell it comes from.
    const Vec2 place = centre(i, j), from = place - off.at(place - middle_);
    least = std::min(least, left_.at(i, j) - (reached_at(from) + off.shift.z()));
  }
  for (const Wall& w : walls_) {
    const Vec2 across = w.to - w.from, moved = across + off.at(w.to - middle_);
    // The faces lie up to a cell beyond the last centres cut, half of one on average.
    least = std::min(least, moved.dot(across.normalized()) - left_.cell);
  }
  return least;
}

double Web::reached_at(const Vec2& at) const {
  const measure::HeightMap& map = reached_;
  const double u = (at.x() - map.x0) / map.cell - 0.5, v = (at.y() - map.y0) / map.cell - 0.5;
  const double column = std::clamp(std::floor(u), 0.0, std::max(0.0, map.columns - 2.0)),
               row = std::clamp(std::floor(v), 0.0, std::max(0.0, map.rows - 2.0));
  const int i = static_cast<int>(column), j = static_cast<int>(row);
  const int i1 = std::min(i + 1, map.columns - 1), j1 = std::min(j + 1, map.rows - 1);
  const double fx = std::clamp(u - column, 0.0, 1.0), fy = std::clamp(v - row, 0.0, 1.0);
  const double a = map.at(i, j), b = map.at(i1, j), c = map.at(i, j1), d = map.at(i1, j1);
  if (std::min({a, b, c, d}) < nowhere) return std::max({a, b, c, d});
  return (1 - fy) * ((1 - fx) * a + fx * b) + fy * ((1 - fx) * c + fx * d);
}

}  // namespace proveout::flip
