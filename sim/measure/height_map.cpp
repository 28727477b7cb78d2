#include "sim/measure/height_map.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/measure/surface.h"

namespace proveout::measure {

HeightMap height_map(const stock::Stock& stock, const RigidMotion& setup_from_stock, double cell) {
  const auto& f = stock.fields();
  std::vector<std::vector<Eigen::Vector3f>> lists(leaf_count(f));
  for_surface_points(f, false, [&](std::size_t leaf, const SurfacePoint& p) {
    lists[leaf].push_back((setup_from_stock * p.at).cast<float>());
  });
  Eigen::AlignedBox3f box;
  for (const auto& l : lists) {
    for (const auto& p : l) box.extend(p);
  }
  HeightMap map;
  map.cell = cell;
  if (box.isEmpty()) return map;
  map.x0 = box.min().x();
  map.y0 = box.min().y();
  map.columns = static_cast<int>(box.sizes().x() / cell) + 1;
  map.rows = static_cast<int>(box.sizes().y() / cell) + 1;
  map.height.assign(static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows),
                    -1e9f);
  for (const auto& l : lists) {
    for (const auto& p : l) {
      float& h = map.at(std::min(map.columns - 1, static_cast<int>((p.x() - map.x0) / cell)),
                        std::min(map.rows - 1, static_cast<int>((p.y() - map.y0) / cell)));
      h = std::max(h, p.z());
    }
  }
  return map;
}

namespace {

// From a voxel in the material: where the material may end along each axis at latest, in voxels
// (0 on a side where the next voxel is material too). The field outside is never more than the
// distance but for half a step of rounding, so the way it leaves free is free.
struct Ends {
  std::array<std::array<double, 3>, 3> at{};  // axis; below, here, above
  bool any = false;
};

Ends ends_of(const stock::DistanceReader& distance, const openvdb::Coord& c, double voxel) {
  Ends out;
  for (int k = 0; k < 3; ++k) {
    for (int side : {-1, 1}) {
      openvdb::Coord next = c;
      next[k] += side;
      if (distance.inside(next)) continue;
      const double d = distance.at(next) - 0.5 * distance.mm(1);
      out.at[static_cast<std::size_t>(k)][side < 0 ? 0 : 2] = side * (1 - std::min(1.0, d / voxel));
      out.any = true;
    }
  }
  return out;
}

}  // namespace

HeightMap column_tops(const stock::Stock& stock, const RigidMotion& setup_from_stock, double cell) {
  const auto& f = stock.fields();
  const double h = f.voxel;
  const openvdb::CoordBBox active = f.steps->evalActiveVoxelBoundingBox();
  HeightMap map;
  map.cell = std::max(1.0, std::ceil(cell / h - 1e-9)) * h;
  if (active.empty()) return map;
  const auto place = [&](const Vec3& index) {
    return Vec3(setup_from_stock * (f.middle(openvdb::Coord(0)) + index * h));
  };
  Box3 box;
  for (int corner = 0; corner < 8; ++corner) {
    const auto pick = [&](int axis) {
      return static_cast<double>(corner >> axis & 1 ? active.max()[axis] : active.min()[axis]);
    };
    box.extend(place(Vec3(pick(0), pick(1), pick(2))));
  }
  map.x0 = box.min().x() - h / 2;
  map.y0 = box.min().y() - h / 2;
  map.columns = static_cast<int>((box.sizes().x() + h) / map.cell) + 1;
  map.rows = static_cast<int>((box.sizes().y() + h) / map.cell) + 1;
  map.height.assign(static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows),
                    -1e9f);
  const openvdb::tree::LeafManager<const stock::DistanceTree> leaves(f.steps->tree());
  using Top = std::pair<std::size_t, float>;  // cell, height
  std::vector<std::vector<Top>> lists(leaves.leafCount());
  tbb::parallel_for(std::size_t{0}, leaves.leafCount(), [&](std::size_t n) {
    const stock::DistanceReader distance(f);
    const auto& leaf = leaves.leaf(n);
    const std::int16_t* steps = leaf.buffer().data();
    std::vector<Top>& list = lists[n];
    for (openvdb::Index i = 0; i < 512; ++i) {
      if (!(steps[i] < 0)) continue;
      const openvdb::Coord c = leaf.offsetToGlobalCoord(i);
      const Ends ends = ends_of(distance, c, h);
      if (!ends.any) continue;
      std::array<Vec3, 27> corners;
      int count = 0;
      double top = -1e9;
      for (int k = 0; k < 27; ++k) {
        const std::array<int, 3> side{k % 3, k / 3 % 3, k / 9};
        Vec3 index(c.x(), c.y(), c.z());
        bool is_new = true;
        for (std::size_t axis = 0; axis < 3; ++axis) {
          const double end = ends.at[axis][static_cast<std::size_t>(side[axis])];
          if (side[axis] != 1 && end == 0) is_new = false;
          index[static_cast<int>(axis)] += end;
        }
        if (!is_new) continue;
        corners[static_cast<std::size_t>(count)] = place(index);
        top = std::max(top, corners[static_cast<std::size_t>(count++)].z());
      }
      for (int k = 0; k < count; ++k) {
        const Vec3& p = corners[static_cast<std::size_t>(k)];
        const auto slot = [&](double v, double from, int most) {
          return static_cast<std::size_t>(
              std::clamp(static_cast<int>(std::floor((v - from) / map.cell)), 0, most - 1));
        };
        list.emplace_back(slot(p.y(), map.y0, map.rows) * static_cast<std::size_t>(map.columns) +
                              slot(p.x(), map.x0, map.columns),
                          std::nextafter(static_cast<float>(top), 1e30f));
      }
    }
    // Highest of each cell only.
    std::sort(list.begin(), list.end(), [](const Top& a, const Top& b) {
      return a.first != b.first ? a.first < b.first : a.second > b.second;
    });
    list.erase(std::unique(list.begin(), list.end(),
                           [](const Top& a, const Top& b) { return a.first == b.first; }),
               list.end());
  });
  for (const auto& list : lists) {
    for (const Top& t : list) map.height[t.first] = std::max(map.height[t.first], t.second);
  }
  return map;
}

}  // namespace proveout::measure
