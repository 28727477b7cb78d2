#include "sim/setup/pose.h"

#include <fmt/format.h>

#include <cmath>

namespace proveout::setup {
namespace {

double edge_of(double low, double high, job::ZeroEdge edge) {
  switch (edge) {
    case job::ZeroEdge::min:
      return low;
    case job::ZeroEdge::max:
      return high;
    case job::ZeroEdge::centre:
      break;
  }
  return 0.5 * (low + high);
}

// Rotation by an angle in degrees; quarter turns are exact, so that the grid is never resampled.
Eigen::Matrix3d rotation(job::Axis axis, double degrees) {
  const int k = static_cast<int>(axis);
  const int a = (k + 1) % 3, b = (k + 2) % 3;
  double c = std::cos(degrees / deg_per_rad), s = std::sin(degrees / deg_per_rad);
  const double quarters = degrees / 90;
  if (quarters == std::round(quarters)) {
    const int q = ((static_cast<int>(quarters) % 4) + 4) % 4;
    c = q == 0 ? 1 : q == 2 ? -1 : 0;
    s = q == 1 ? 1 : q == 3 ? -1 : 0;
  }
  Eigen::Matrix3d r = Eigen::Matrix3d::Identity();
  r(a, a) = c;
  r(a, b) = -s;
  r(b, a) = s;
  r(b, b) = c;
  return r;
}

}  // namespace

Eigen::Matrix3d machine_from_stock_rotation(std::span<const job::Turn> turns) {
  Eigen::Matrix3d r = Eigen::Matrix3d::Identity();
  for (const job::Turn& t : turns) r = rotation(t.about, t.degrees) * r;
  return r;
}

Box3 turned(const Box3& box, const Eigen::Matrix3d& rotation) {
  Box3 out;
  for (int corner = 0; corner < 8; ++corner) {
    out.extend(rotation * box.corner(static_cast<Box3::CornerType>(corner)));
  }
  return out;
}

RigidMotion stock_from_setup(const job::Setup& setup, const Box3& blank, const Box3& milled_extent,
                             bool include_locating_error) {
  const Eigen::Matrix3d machine_from_stock = machine_from_stock_rotation(setup.turn);
  Vec3 zero;
  if (setup.zero.at) {
    zero = machine_from_stock * *setup.zero.at;
  } else {
    const Box3 box = setup.zero.on == job::ZeroOn::milled && !milled_extent.isEmpty()
                         ? milled_extent
                         : turned(blank, machine_from_stock);
    zero = Vec3(edge_of(box.min().x(), box.max().x(), setup.zero.x),
                edge_of(box.min().y(), box.max().y(), setup.zero.y),
                edge_of(box.min().z(), box.max().z(), setup.zero.z));
  }
  zero += setup.zero.offset;
  if (include_locating_error) zero -= setup.locating_error;
  RigidMotion pose = RigidMotion::Identity();
  pose.linear() = machine_from_stock.transpose();
  pose.translation() = machine_from_stock.transpose() * zero;
  return pose;
}

std::string zero_in_words(const RigidMotion& pose, const Box3& blank) {
  const Eigen::Matrix3d machine_from_stock = pose.linear().transpose();
  const Box3 box = turned(blank, machine_from_stock);
  const Vec3 zero = machine_from_stock * pose.translation();
  const auto near = [](double a, double b) { return std::abs(a - b) < 5e-4; };
  const auto along = [&](int axis, const char* low, const char* high) -> std::string {
    const double from_low = zero[axis] - box.min()[axis], size = box.sizes()[axis];
    if (near(from_low, 0)) return fmt::format("on the {} edge", low);
    if (near(from_low, size)) return fmt::format("on the {} edge", high);
    if (near(from_low, size / 2)) return fmt::format("midway between {} and {}", low, high);
    if (from_low < 0) return fmt::format("{:.3g} mm outside the {} edge", -from_low, low);
    if (from_low > size) return fmt::format("{:.3g} mm outside the {} edge", from_low - size, high);
    return from_low <= size / 2
               ? fmt::format("{:.4g} mm in from the {} edge", from_low, low)
               : fmt::format("{:.4g} mm in from the {} edge", size - from_low, high);
  };
  std::string height;
  const double below = box.max().z() - zero.z(), tall = box.sizes().z();
  if (near(below, 0))
    height = "on the blank's top face";
  else if (near(below, tall))
    height = "on the blank's bottom face";
  else if (below < 0)
    height = fmt::format("{:.4g} mm above the blank's top face", -below);
  else
    height = fmt::format("{:.4g} mm below the blank's top face", below);
  return fmt::format("zero: {}, {}, {}", along(0, "left", "right"), along(1, "front", "back"),
                     height);
}

}  // namespace proveout::setup
