// Vectors and rigid motions, in the one form every room uses.
#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <numbers>

namespace proveout {

using Vec3 = Eigen::Vector3d;           // mm unless a name says otherwise
using RigidMotion = Eigen::Isometry3d;  // named destination_from_source, e.g. stock_from_setup

inline constexpr double pi = std::numbers::pi;
inline constexpr double mm_per_inch = 25.4;
inline constexpr double deg_per_rad = 180.0 / std::numbers::pi;

// An axis-parallel box; empty while min > max.
using Box3 = Eigen::AlignedBox3d;

}  // namespace proveout
