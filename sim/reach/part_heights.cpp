#include "sim/reach/part_heights.h"

#include <algorithm>
#include <cmath>
#include <deque>

namespace proveout::reach {
namespace {

constexpr double edge = 1e-9;  // mm: points on a triangle's edge belong to it

void cover(Heights& map, const Vec3& a, const Vec3& b, const Vec3& c) {
  const double area = (b.x() - a.x()) * (c.y() - a.y()) - (b.y() - a.y()) * (c.x() - a.x());
  if (std::abs(area) < 1e-12) return;  // upright: seen edge on, its neighbours carry its edges
  const auto [x_low, x_high] = std::minmax({a.x(), b.x(), c.x()});
  const auto [y_low, y_high] = std::minmax({a.y(), b.y(), c.y()});
  const auto first = [&](double v, double from) {
    return std::max(0, static_cast<int>(std::ceil((v - from) / map.step - edge)));
  };
  const auto last = [&](double v, double from, int count) {
    return std::min(count - 1, static_cast<int>(std::floor((v - from) / map.step + edge)));
  };
  for (int j = first(y_low, map.y0); j <= last(y_high, map.y0, map.rows); ++j) {
    const double y = map.y0 + j * map.step;
    for (int i = first(x_low, map.x0); i <= last(x_high, map.x0, map.columns); ++i) {
      const double x = map.x0 + i * map.step;
      const double wb = ((x - a.x()) * (c.y() - a.y()) - (y - a.y()) * (c.x() - a.x())) / area;
      const double wc = ((b.x() - a.x()) * (y - a.y()) - (b.y() - a.y()) * (x - a.x())) / area;
      if (wb < -edge || wc < -edge || wb + wc > 1 + edge) continue;
      const double z = a.z() + wb * (b.z() - a.z()) + wc * (c.z() - a.z());
      double& h = map.height[map.index(i, j)];
      h = std::max(h, z);
    }
  }
}

// Sliding maximum over half points to each side of a row.
void slide(const double* row, int count, int half, double beyond, double* out) {
  std::deque<int> best;
  for (int k = 0; k < count + half; ++k) {
    if (k < count) {
      while (!best.empty() && row[best.back()] <= row[k]) best.pop_back();
      best.push_back(k);
    }
    const int i = k - half;
    if (i < 0) continue;
    while (!best.empty() && best.front() < i - half) best.pop_front();
    out[i] = best.empty() ? beyond : row[best.front()];
  }
}

}  // namespace

int Heights::column(double x) const { return static_cast<int>(std::lround((x - x0) / step)); }
int Heights::row(double y) const { return static_cast<int>(std::lround((y - y0) / step)); }

Heights part_heights(const mesh::Mesh& mesh, double step, double margin) {
  const Box3 box = mesh::bounds(mesh);
  Heights map;
  map.step = step;
  map.floor = box.min().z();
  map.x0 = box.min().x() - margin;
  map.y0 = box.min().y() - margin;
  map.columns = static_cast<int>(std::ceil((box.sizes().x() + 2 * margin) / step)) + 1;
  map.rows = static_cast<int>(std::ceil((box.sizes().y() + 2 * margin) / step)) + 1;
  map.height.assign(static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows),
                    map.floor);
  for (const auto& t : mesh.triangles)
    cover(map, mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]);
  return map;
}

std::vector<double> highest_within(const Heights& map, double radius) {
  std::vector<double> out(map.height.size(), map.floor);
  std::vector<double> wide(static_cast<std::size_t>(map.columns));
  const int reach = static_cast<int>(std::floor(radius / map.step + edge));
  for (int dj = 0; dj <= reach; ++dj) {
    const double across = std::sqrt(std::max(0.0, radius * radius - std::pow(dj * map.step, 2)));
    const int half = static_cast<int>(std::floor(across / map.step + edge));
    for (int source = 0; source < map.rows; ++source) {
      slide(&map.height[map.index(0, source)], map.columns, half, map.floor, wide.data());
      for (int j : {source - dj, source + dj}) {
        if (j < 0 || j >= map.rows) continue;
        double* row = &out[map.index(0, j)];
        for (int i = 0; i < map.columns; ++i)
          row[i] = std::max(row[i], wide[static_cast<std::size_t>(i)]);
      }
    }
  }
  return out;
}

}  // namespace proveout::reach
