#include "sim/measure/section.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <unordered_map>

#include "sim/stock/distance_reader.h"

namespace proveout::measure {
namespace {

using Point = Eigen::Vector2d;
using EdgeNumber = std::uint64_t;  // of a side between two samples: 2 * sample, + 1 if it goes up

struct Samples {
  double x0 = 0, y0 = 0, step = 1;
  int columns = 0, rows = 0;
  std::vector<float> value;

  std::size_t index(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(columns) +
           static_cast<std::size_t>(i);
  }
  float at(int i, int j) const { return value[index(i, j)]; }
  EdgeNumber across(int i, int j) const { return 2 * static_cast<EdgeNumber>(index(i, j)); }
  EdgeNumber up(int i, int j) const { return across(i, j) + 1; }
  // Where the field vanishes on a side.
  Point zero(EdgeNumber edge) const {
    const auto n = static_cast<std::size_t>(edge / 2);
    const int i = static_cast<int>(n % static_cast<std::size_t>(columns));
    const int j = static_cast<int>(n / static_cast<std::size_t>(columns));
    const bool upright = edge % 2 == 1;
    const double a = at(i, j), b = upright ? at(i, j + 1) : at(i + 1, j);
    const double t = a / (a - b);
    return {x0 + step * (i + (upright ? 0 : t)), y0 + step * (j + (upright ? t : 0))};
  }
};

// The sample points lie on voxel centres where the plane's axes are the stock's. Two voxels of air
// on every side close every contour.
Samples sample(const stock::Stock& stock, const RigidMotion& stock_from_plane) {
  const auto& f = stock.fields();
  Samples out;
  out.step = f.voxel;
  const openvdb::CoordBBox active = f.steps->evalActiveVoxelBoundingBox();
  if (active.empty()) return out;
  const double h = f.voxel;
  const RigidMotion plane_from_stock = stock_from_plane.inverse();
  Box3 box;
  for (int corner = 0; corner < 8; ++corner) {
    const auto pick = [&](int axis) {
      return corner >> axis & 1 ? active.max()[axis] : active.min()[axis];
    };
    box.extend(Vec3(plane_from_stock * f.middle(openvdb::Coord(pick(0), pick(1), pick(2)))));
  }
  if (box.min().z() > h || box.max().z() < -h) return out;
  out.x0 = box.min().x() - 2 * h;
  out.y0 = box.min().y() - 2 * h;
  out.columns = static_cast<int>(std::ceil(box.sizes().x() / h)) + 5;
  out.rows = static_cast<int>(std::ceil(box.sizes().y() / h)) + 5;
  out.value.resize(out.index(0, out.rows));
  tbb::parallel_for(0, out.rows, [&](int j) {
    const stock::FieldSampler distance(f);
    for (int i = 0; i < out.columns; ++i) {
      const auto v =
          static_cast<float>(distance(stock_from_plane * Vec3(out.x0 + i * h, out.y0 + j * h, 0)));
      // Never exactly 0: a sample is in the material or in the air.
      out.value[out.index(i, j)] = v == 0 ? 1e-12f : v;
    }
  });
  return out;
}

// From side to side of one square, material on the left. At most two ways.
template <class Link>
void link_square(const Samples& s, int i, int j, Link link) {
  const std::array<float, 4> v = {s.at(i, j), s.at(i + 1, j), s.at(i + 1, j + 1), s.at(i, j + 1)};
  const std::array<EdgeNumber, 4> side = {s.across(i, j), s.up(i + 1, j), s.across(i, j + 1),
                                          s.up(i, j)};  // side k: from corner k to k + 1
  // Going round counter-clockwise, the contour leaves by the side where material ends and comes in
  // by the one where it begins; seen along the contour material lies to its left.
  std::array<EdgeNumber, 2> ends{}, begins{};
  int count = 0, others = 0;
  bool first_is_end = false;
  for (int k = 0; k < 4; ++k) {
    const bool here = v[static_cast<std::size_t>(k)] < 0,
               next = v[static_cast<std::size_t>((k + 1) % 4)] < 0;
    if (here == next) continue;
    if (here) {
      if (count == 0 && others == 0) first_is_end = true;
      ends[static_cast<std::size_t>(count++)] = side[static_cast<std::size_t>(k)];
    } else {
      begins[static_cast<std::size_t>(others++)] = side[static_cast<std::size_t>(k)];
    }
  }
  if (count == 0) return;
  if (count == 1) return link(ends[0], begins[0]);
  // Two corners of material across from each other: joined where the middle is material.
  const bool joined = v[0] + v[1] + v[2] + v[3] < 0;
  // Round one corner of material alone, from its end back to its beginning; round one corner of air
  // from the end before it to the beginning behind it.
  const bool swapped = first_is_end != joined;
  link(ends[0], begins[swapped ? 1 : 0]);
  link(ends[1], begins[swapped ? 0 : 1]);
}

void measure_contour(Contour& c) {
  for (std::size_t k = 0; k < c.points.size(); ++k) {
    const Point &a = c.points[k], &b = c.points[(k + 1) % c.points.size()];
    c.area_mm2 += 0.5 * (a.x() * b.y() - b.x() * a.y());
    c.length_mm += (b - a).norm();
  }
}

}  // namespace

Section section(const stock::Stock& stock, const RigidMotion& stock_from_plane) {
  const Samples s = sample(stock, stock_from_plane);
  std::unordered_map<EdgeNumber, EdgeNumber> next;
  std::vector<EdgeNumber> starts;
  for (int j = 0; j + 1 < s.rows; ++j) {
    for (int i = 0; i + 1 < s.columns; ++i) {
      link_square(s, i, j, [&](EdgeNumber from, EdgeNumber to) {
        next.emplace(from, to);
        starts.push_back(from);
      });
    }
  }
  Section out;
  for (const EdgeNumber start : starts) {
    Contour contour;
    for (auto at = next.find(start); at != next.end();) {
      contour.points.push_back(s.zero(at->first));
      const EdgeNumber to = at->second;
      next.erase(at);
      at = next.find(to);
    }
    if (contour.points.size() < 3) continue;
    measure_contour(contour);
    out.area_mm2 += contour.area_mm2;
    out.perimeter_mm += contour.length_mm;
    out.contours.push_back(std::move(contour));
  }
  std::stable_sort(out.contours.begin(), out.contours.end(),
                   [](const Contour& a, const Contour& b) { return a.area_mm2 > b.area_mm2; });
  return out;
}

}  // namespace proveout::measure
