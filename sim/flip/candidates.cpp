#include "sim/flip/candidates.h"

#include <cmath>

#include "sim/setup/pose.h"

namespace proveout::flip {
namespace {

RigidMotion quarter_turned(int quarters) {
  const job::Turn turn{job::Axis::z, 90.0 * quarters};
  RigidMotion out = RigidMotion::Identity();
  out.linear() = setup::machine_from_stock_rotation(std::span(&turn, 1));
  return out;
}

// The later setup's pose had the block lain quarters of a turn further round the machine's z.
RigidMotion pose(const job::Setup& later, const Box3& blank, const Box3& milled, int quarters) {
  job::Setup turned = later;
  turned.turn.push_back({job::Axis::z, 90.0 * quarters});
  const Eigen::Matrix3d round = quarter_turned(quarters).linear();
  if (turned.zero.at) {
    // Measured from the block as it lies: the place turns about the block's middle, and is another
    // place of the stock.
    const Eigen::Matrix3d machine_from_stock = setup::machine_from_stock_rotation(later.turn);
    const Eigen::Matrix3d in_stock =
        machine_from_stock.transpose() * round.transpose() * machine_from_stock;
    turned.zero.at = blank.center() + in_stock * (*later.zero.at - blank.center());
  }
  const Box3 milled_turned = milled.isEmpty() ? milled : setup::turned(milled, round);
  return setup::stock_from_setup(turned, blank, milled_turned);
}

std::string turn_in_words(const Eigen::Matrix3d& later_from_earlier, int quarters) {
  const auto is = [&](double x, double y) {
    return (later_from_earlier - Eigen::Matrix3d(Vec3(x, y, -1).asDiagonal())).norm() < 1e-6;
  };
  if (is(1, -1)) return "turned about x";
  if (is(-1, 1)) return "turned about y";
  switch (quarters) {
    case 1:
      return "a quarter turn to the left besides";
    case 2:
      return "half-turned about z besides";
    case 3:
      return "a quarter turn to the right besides";
    default:
      return "as declared";
  }
}

}  // namespace

bool opposed(const RigidMotion& stock_from_earlier, const RigidMotion& stock_from_later) {
  const Vec3 a = stock_from_earlier.linear().col(2), b = stock_from_later.linear().col(2);
  return a.dot(b) < 0 && a.cross(b).norm() < std::sin(0.1 / deg_per_rad);
}

std::vector<Candidate> candidates(const job::Setup& later, const RigidMotion& stock_from_earlier,
                                  const Box3& blank, const Box3& milled) {
  const Eigen::Matrix3d machine_from_stock = setup::machine_from_stock_rotation(later.turn);
  const Box3 block = milled.isEmpty() ? setup::turned(blank, machine_from_stock) : milled;
  const bool square = std::abs(block.sizes().x() - block.sizes().y()) <= 1;
  const RigidMotion plan_from_stock = stock_from_earlier.inverse();
  const RigidMotion declared = pose(later, blank, milled, 0);
  std::vector<Candidate> out;
  for (const bool mirrored : {false, true}) {
    for (const int quarters : {0, 2, 1, 3}) {
      if (quarters % 2 == 1 && !square) continue;
      const RigidMotion lying = pose(later, blank, milled, quarters);
      Candidate c;
      c.quarter_turns = quarters;
      c.mirrored = mirrored;
      c.name = turn_in_words(lying.linear().transpose() * stock_from_earlier.linear(), quarters);
      RigidMotion in_setup = RigidMotion::Identity();
      if (mirrored) {
        // Left to right about the block's middle, in the setup's own frame as declared: a program
        // mirrored about its zero would be set to the other corner by whoever posted it.
        const double middle =
            (declared.inverse() * (machine_from_stock.transpose() * block.center())).x();
        in_setup.linear()(0, 0) = -1;
        in_setup.translation().x() = 2 * middle;
        c.name += ", program mirrored";
      }
      c.moved.matrix() = (plan_from_stock.matrix() * lying.matrix() * in_setup.matrix() *
                          declared.inverse().matrix() * stock_from_earlier.matrix());
      out.push_back(std::move(c));
    }
  }
  return out;
}

}  // namespace proveout::flip
