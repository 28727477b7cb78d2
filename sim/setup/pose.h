// Where a setup's frame lies on the stock.
#pragma once

#include <span>
#include <string>

#include "parser/base/geometry.h"
#include "parser/job/job.h"

namespace proveout::setup {

// Rotation of the stock about its own centre, turns applied in the order given, about the machine's
// axes. Maps directions of stock coordinates to machine axes.
Eigen::Matrix3d machine_from_stock_rotation(std::span<const job::Turn> turns);

// stock_from_setup for one setup. blank: the unmachined stock's box, stock coordinates.
// milled_extent: box, along this setup's machine axes, of what earlier setups left, with the origin
// of stock coordinates kept (i.e. extent of R * p over the material); used when the zero is on =
// milled. locating_error (mm, machine axes) is added when include_locating_error: the work lies
// that far off, so the tool meets it shifted the other way.
RigidMotion stock_from_setup(const job::Setup& setup, const Box3& blank, const Box3& milled_extent,
                             bool include_locating_error = true);

// The box around a box turned by a rotation.
Box3 turned(const Box3& box, const Eigen::Matrix3d& rotation);

// Where a setup's zero lies on the unmachined blank as it lies on the machine, for an operator:
// "zero: midway between left and right, midway between front and back, on the blank's top face".
std::string zero_in_words(const RigidMotion& stock_from_setup, const Box3& blank);

}  // namespace proveout::setup
