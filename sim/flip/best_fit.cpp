#include "sim/flip/best_fit.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/flip/stretch.h"

namespace proveout::flip {
namespace {

constexpr int rounds = 3, weightings = 7;
constexpr std::size_t fewest = 50;
constexpr double least_scale = 0.02;  // mm: of the biweight
constexpr double least_size = 0.005;  // mm: of the least sum of sizes

struct Wall {
  Vec3 at;       // setup axes, mm, from the walls' middle
  Vec3 outward;  // setup axes
};

// What is moved is the side's surface: x, y and turn so far taken off it.
struct Moved {
  Vec2 shift = Vec2::Zero();
  double turn = 0;  // rad
  Vec3 back(const Vec3& at) const {
    const Vec2 turned = Eigen::Rotation2Dd(-turn) * (at.head<2>() - shift);
    return {turned.x(), turned.y(), at.z()};
  }
};

double biweight(double residual, double scale) {
  const double u = residual / (4.685 * scale);
  return std::abs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
}

double median_size(const std::vector<double>& values) {
  std::vector<double> sizes;
  sizes.reserve(values.size());
  for (double v : values) sizes.push_back(std::abs(v));
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  return *middle;
}

// How much a wall counts in the k-th weighting. At first all alike, then by the least sum of sizes,
// and only then are outliers left out: of a rectangle shifted along its length most walls lie
// right, and by the median the others, which tell the shift, would be the outliers from the start.
double weight(int k, double residual, double scale) {
  if (k == 0) return 1;
  if (k <= 3) return 1 / std::max(std::abs(residual), least_size);
  return biweight(residual, scale);
}

struct Step {
  Eigen::Vector3d by = Eigen::Vector3d::Zero();
  double left = 0;
  std::size_t counted = 0;
};

// Weighted least squares of distance = outward . (shift + turn x at).
Step solve(const std::vector<Eigen::Vector3d>& rows, const std::vector<double>& distances) {
  Step out;
  std::vector<double> residuals = distances;
  for (int k = 0; k < weightings; ++k) {
    // 1.4826: from the median of sizes to the standard deviation of a normal distribution.
    const double scale = std::max(least_scale, 1.4826 * median_size(residuals));
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    Eigen::Vector3d right = Eigen::Vector3d::Zero();
    double weights = 0, squares = 0;
    out.counted = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const double w = weight(k, residuals[i], scale);
      if (!(w > 0)) continue;
      normal += w * rows[i] * rows[i].transpose();
      right += w * distances[i] * rows[i];
      weights += w;
      squares += w * residuals[i] * residuals[i];
      ++out.counted;
    }
    if (!(weights > 0)) return {};
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(normal);
    out.by.setZero();
    for (int j = 0; j < 3; ++j) {
      // A direction no wall faces stays where it is.
      if (!(solver.eigenvalues()[j] > 1e-4 * solver.eigenvalues().maxCoeff())) continue;
      const Eigen::Vector3d way = solver.eigenvectors().col(j);
      out.by += way * (way.dot(right) / solver.eigenvalues()[j]);
    }
    for (std::size_t i = 0; i < rows.size(); ++i) residuals[i] = distances[i] - rows[i].dot(out.by);
    out.left = std::sqrt(squares / weights);
  }
  return out;
}

}  // namespace

BestFit best_fit(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                 const RigidMotion& stock_from_setup, std::span<const Box3> left_out,
                 double reach) {
  const RigidMotion setup_from_stock = stock_from_setup.inverse();
  std::vector<Wall> walls;
  Vec3 middle = Vec3::Zero();
  for (const measure::SurfaceSample& s : samples) {
    const Vec3 at = s.at.cast<double>();
    const Vec3 outward = setup_from_stock.linear() * s.outward.cast<double>();
    if (std::abs(outward.z()) > steepest_wall) continue;
    if (std::any_of(left_out.begin(), left_out.end(),
                    [&](const Box3& box) { return box.contains(at); }))
      continue;
    walls.push_back({setup_from_stock * at, outward});
    middle += walls.back().at;
  }
  if (walls.size() < fewest) return {};
  middle /= static_cast<double>(walls.size());
  for (Wall& w : walls) w.at -= middle;
  // Turn in mm at this radius, so that the unknowns weigh alike.
  double radius = 0;
  for (const Wall& w : walls) radius = std::max(radius, w.at.head<2>().norm());

  BestFit out;
  Moved moved;
  for (int round = 0; round < rounds; ++round) {
    std::vector<Eigen::Vector3d> rows;
    std::vector<double> distances;
    for (const Wall& w : walls) {
      const Vec3 at = moved.back(w.at);
      const double d = part.at(stock_from_setup * (at + middle), reach);
      if (!(std::abs(d) < reach)) continue;
      const Vec3& n = w.outward;
      rows.emplace_back(n.x(), n.y(), (n.y() * at.x() - n.x() * at.y()) / radius);
      distances.push_back(d);
    }
    if (rows.size() < fewest) return {};
    const Step step = solve(rows, distances);
    if (step.counted < fewest) return {};
    moved.shift += step.by.head<2>();
    moved.turn += step.by[2] / radius;
    out.left = step.left;
    out.samples = step.counted;
  }
  out.found = true;
  out.x = moved.shift.x();
  out.y = moved.shift.y();
  out.turn_deg = moved.turn * deg_per_rad;
  return out;
}

}  // namespace proveout::flip
