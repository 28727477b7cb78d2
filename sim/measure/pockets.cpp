#include "sim/measure/pockets.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <functional>
#include <limits>
#include <queue>
#include <tuple>

#include "sim/measure/plane_section.h"

namespace proveout::measure {
namespace {

constexpr double nothing = -1e9;
constexpr double least_depth = 0.02;  // mm: shallower than that is the grain of a face, no pocket

struct Grid {
  double cell = 1, x0 = 0, y0 = 0;
  int columns = 0, rows = 0;
  std::vector<double> height;  // mm, setup frame, at the cells' middles
  std::size_t index(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(columns) +
           static_cast<std::size_t>(i);
  }
  template <class Each>
  void beside(int i, int j, Each each) const {
    for (int k = 0; k < 4; ++k) {
      const int x = i + (k == 0) - (k == 1), y = j + (k == 2) - (k == 3);
      if (x >= 0 && y >= 0 && x < columns && y < rows) each(x, y);
    }
  }
};

// Highest material over each cell's middle.
Grid heights(const stock::Stock& stock, const RigidMotion& stock_from_setup, double cell) {
  const auto& f = stock.fields();
  Grid grid;
  grid.cell = cell;
  const openvdb::CoordBBox active = f.steps->evalActiveVoxelBoundingBox();
  if (active.empty()) return grid;
  Box3 box;
  const RigidMotion setup_from_stock = stock_from_setup.inverse();
  for (int corner = 0; corner < 8; ++corner) {
    const auto pick = [&](int axis) {
      return corner >> axis & 1 ? active.max()[axis] + 1 : active.min()[axis];
    };
    box.extend(setup_from_stock * f.corner(openvdb::Coord(pick(0), pick(1), pick(2))));
  }
  grid.x0 = box.min().x() - cell;
  grid.y0 = box.min().y() - cell;
  grid.columns = static_cast<int>(std::ceil(box.sizes().x() / cell)) + 2;
  grid.rows = static_cast<int>(std::ceil(box.sizes().y() / cell)) + 2;
  grid.height.assign(static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows),
                     nothing);
  tbb::parallel_for(0, grid.rows, [&](int j) {
    const FieldSampler field(f);
    for (int i = 0; i < grid.columns; ++i) {
      const double x = grid.x0 + (i + 0.5) * cell, y = grid.y0 + (j + 0.5) * cell;
      double above = box.max().z(), before = field(stock_from_setup * Vec3(x, y, above));
      while (above > box.min().z()) {
        const double z = above - f.voxel, now = field(stock_from_setup * Vec3(x, y, z));
        if (now < 0) {
          const double span = before - now;
          grid.height[grid.index(i, j)] = span > 0 ? z - (above - z) * now / span : z;
          break;
        }
        above = z;
        before = now;
      }
    }
  });
  return grid;
}

// Level to which each cell fills before it runs over.
std::vector<double> flooded(const Grid& grid) {
  std::vector<double> level(grid.height.size(), std::numeric_limits<double>::quiet_NaN());
  using Entry = std::tuple<double, int, int>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> open;
  const auto put = [&](int i, int j, double at) {
    double& l = level[grid.index(i, j)];
    if (!std::isnan(l)) return;
    l = std::max(at, grid.height[grid.index(i, j)]);
    open.emplace(l, i, j);
  };
  for (int j = 0; j < grid.rows; ++j) {
    for (int i = 0; i < grid.columns; ++i) {
      const bool rim = i == 0 || j == 0 || i == grid.columns - 1 || j == grid.rows - 1;
      // Where there is no material at all it runs through.
      if (rim || grid.height[grid.index(i, j)] == nothing) put(i, j, grid.height[grid.index(i, j)]);
    }
  }
  while (!open.empty()) {
    const auto [height, i, j] = open.top();
    open.pop();
    grid.beside(i, j, [&, at = height](int x, int y) { put(x, y, at); });
  }
  return level;
}

// Lower envelope of parabolas along a row: squared distances in cells (Felzenszwalb and
// Huttenlocher, "Distance transforms of sampled functions", Theory of Computing 8 (2012) 415-428).
void transform(std::vector<double>& f) {
  const int n = static_cast<int>(f.size());
  std::vector<double> out(f.size()), bound(f.size() + 1);
  std::vector<int> at(f.size());
  int k = 0;
  bound[0] = -1e20;
  bound[1] = 1e20;
  const auto meet = [&](int q, int p) {
    return (f[static_cast<std::size_t>(q)] + q * q - f[static_cast<std::size_t>(p)] - p * p) /
           (2.0 * (q - p));
  };
  for (int q = 1; q < n; ++q) {
    double s = meet(q, at[static_cast<std::size_t>(k)]);
    while (s <= bound[static_cast<std::size_t>(k)]) {
      --k;
      s = meet(q, at[static_cast<std::size_t>(k)]);
    }
    ++k;
    at[static_cast<std::size_t>(k)] = q;
    bound[static_cast<std::size_t>(k)] = s;
    bound[static_cast<std::size_t>(k) + 1] = 1e20;
  }
  k = 0;
  for (int q = 0; q < n; ++q) {
    while (bound[static_cast<std::size_t>(k) + 1] < q) ++k;
    const int p = at[static_cast<std::size_t>(k)];
    out[static_cast<std::size_t>(q)] = (q - p) * (q - p) + f[static_cast<std::size_t>(p)];
  }
  f = std::move(out);
}

// Widest circle, in cells, over those of the cells in a window that are deep enough.
double widest(const std::vector<char>& deep, int columns, int rows) {
  std::vector<double> far(deep.size());
  for (std::size_t k = 0; k < deep.size(); ++k) far[k] = deep[k] ? 1e12 : 0;
  std::vector<double> line;
  for (int j = 0; j < rows; ++j) {
    const auto first = far.begin() + static_cast<std::ptrdiff_t>(j) * columns;
    line.assign(first, first + columns);
    transform(line);
    std::copy(line.begin(), line.end(), first);
  }
  double most = 0;
  for (int i = 0; i < columns; ++i) {
    line.resize(static_cast<std::size_t>(rows));
    for (int j = 0; j < rows; ++j)
      line[static_cast<std::size_t>(j)] =
          far[static_cast<std::size_t>(j) * static_cast<std::size_t>(columns) +
              static_cast<std::size_t>(i)];
    transform(line);
    most = std::max(most, *std::max_element(line.begin(), line.end()));
  }
  // The wall stands half a cell before the first cell that is not deep enough.
  return most > 0 ? 2 * std::sqrt(most) - 1 : 0;
}

class Basin {
 public:
  Basin(const Grid& grid, const std::vector<double>& level, std::vector<char>& taken, int i, int j)
      : grid_(grid), level_(level) {
    std::deque<std::pair<int, int>> open{{i, j}};
    taken[grid.index(i, j)] = 1;
    while (!open.empty()) {
      const auto [x, y] = open.front();
      open.pop_front();
      cells_.emplace_back(x, y);
      grid.beside(x, y, [&](int u, int v) {
        const std::size_t n = grid.index(u, v);
        if (taken[n] != 0 || !(level[n] > grid.height[n] + least_depth)) return;
        taken[n] = 1;
        open.emplace_back(u, v);
      });
    }
  }

  double depth_at(int i, int j) const {
    const std::size_t n = grid_.index(i, j);
    return level_[n] - grid_.height[n];
  }

  Pocket measured() const {
    Pocket p;
    for (const auto& [i, j] : cells_) {
      const double d = depth_at(i, j);
      p.volume_mm3 += d * grid_.cell * grid_.cell;
      if (d <= p.depth) continue;
      p.depth = d;
      p.at = Vec3(grid_.x0 + (i + 0.5) * grid_.cell, grid_.y0 + (j + 0.5) * grid_.cell,
                  grid_.height[grid_.index(i, j)]);
    }
    p.area_mm2 = static_cast<double>(cells_.size()) * grid_.cell * grid_.cell;
    return p;
  }

  void add_plugs(Pocket& p) const {
    int low[2] = {1 << 30, 1 << 30}, high[2] = {0, 0};
    for (const auto& [i, j] : cells_) {
      low[0] = std::min(low[0], i - 1);
      low[1] = std::min(low[1], j - 1);
      high[0] = std::max(high[0], i + 1);
      high[1] = std::max(high[1], j + 1);
    }
    const int columns = high[0] - low[0] + 1, rows = high[1] - low[1] + 1;
    for (int tenth = 1; tenth <= 10; ++tenth) {
      // A floor is never quite even: the deepest plug is a fiftieth short.
      const double height = p.depth * (tenth == 10 ? 0.98 : tenth / 10.0);
      std::vector<char> deep(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows), 0);
      for (const auto& [i, j] : cells_) {
        if (depth_at(i, j) >= height)
          deep[static_cast<std::size_t>((j - low[1]) * columns + i - low[0])] = 1;
      }
      p.plugs.push_back({widest(deep, columns, rows) * grid_.cell, height});
    }
  }

 private:
  const Grid& grid_;
  const std::vector<double>& level_;
  std::vector<std::pair<int, int>> cells_;
};

}  // namespace

std::vector<Pocket> pockets(const stock::Stock& stock, const RigidMotion& stock_from_setup,
                            double cell, double least_mm3) {
  const Grid grid = heights(stock, stock_from_setup, cell);
  std::vector<Pocket> out;
  if (grid.height.empty()) return out;
  const std::vector<double> level = flooded(grid);
  std::vector<char> taken(level.size(), 0);
  for (int j = 0; j < grid.rows; ++j) {
    for (int i = 0; i < grid.columns; ++i) {
      const std::size_t n = grid.index(i, j);
      if (taken[n] != 0 || !(level[n] > grid.height[n] + least_depth)) continue;
      const Basin basin(grid, level, taken, i, j);
      Pocket p = basin.measured();
      if (p.volume_mm3 < least_mm3) continue;
      basin.add_plugs(p);
      out.push_back(std::move(p));
    }
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Pocket& a, const Pocket& b) { return a.volume_mm3 > b.volume_mm3; });
  return out;
}

}  // namespace proveout::measure
