// Solids in closed form, and the stock that has their shape: for the tests of this room.
#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>
#include <vector>

#include "parser/base/geometry.h"
#include "sim/stock/fields.h"

namespace proveout::measure {

using Solid = std::function<double(const Vec3&)>;  // signed distance, mm

inline double box_distance(const Vec3& p, const Vec3& half) {
  const Vec3 q = p.cwiseAbs() - half;
  return q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
}

inline Solid box(const Vec3& low, const Vec3& high) {
  return [=](const Vec3& p) { return box_distance(p - 0.5 * (low + high), 0.5 * (high - low)); };
}

// A bar along axis through a place: rectangular, turned about itself, or round.
inline Solid bar(const Vec3& through, const Vec3& axis, double turned, double wide, double thick,
                 bool round) {
  Eigen::Matrix3d frame;
  frame.col(0) = axis;
  frame.col(1) = axis.cross(Vec3(0.1, 0.2, 1)).normalized();
  frame.col(2) = axis.cross(frame.col(1));
  frame = frame * Eigen::AngleAxisd(turned, Vec3::UnitX()).toRotationMatrix();
  return [=](const Vec3& p) {
    const Vec3 q = frame.transpose() * (p - through);
    if (round) return std::max(std::hypot(q.y(), q.z()) - wide / 2, std::abs(q.x()) - 10);
    return box_distance(q, Vec3(10, wide / 2, thick / 2));
  };
}

inline Solid together(const std::vector<Solid>& all) {
  return [=](const Vec3& p) {
    double least = 1e9;
    for (const Solid& s : all) least = std::min(least, s(p));
    return least;
  };
}

inline stock::Stock stock_of(const Solid& solid, const Box3& around, double h) {
  auto fields = std::make_unique<stock::Stock::Fields>();
  constexpr std::int16_t band = stock::Stock::Fields::band_steps;
  fields->voxel = h;
  const stock::Stock::Fields::Rounding rounding = fields->rounding();
  fields->steps = fields->air();
  fields->provenance = openvdb::Int32Grid::create(0);
  auto value = fields->steps->getAccessor();
  const openvdb::Coord low = fields->holding(around.min()), high = fields->holding(around.max());
  for (int x = low.x(); x <= high.x(); ++x) {
    for (int y = low.y(); y <= high.y(); ++y) {
      for (int z = low.z(); z <= high.z(); ++z) {
        const double d = solid(fields->middle({x, y, z}));
        const std::int16_t clipped = rounding(static_cast<float>(d));
        if (std::abs(clipped) < band)
          value.setValueOn({x, y, z}, clipped);
        else if (clipped < 0)
          value.setValueOff({x, y, z}, clipped);
      }
    }
  }
  return stock::Stock::of_fields(std::move(fields));
}

}  // namespace proveout::measure
