#include "sim/flip/seam.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

namespace proveout::flip {
namespace {

constexpr double nowhere = -1e8;  // heights below it: nothing there

// Beside both walls, clear of the cell that holds the outer of them. at: on the later one. The
// most of the nine cells there: in a corner some of them hold the other wall.
double overlap_beside(const SeamInputs& in, const Vec2& at, const Vec2& outward, double step) {
  const measure::HeightMap& map = in.left;
  const Vec2 beside = at + (std::max(0.0, -step) + 0.75 * map.cell + 0.1) * outward;
  const double column = std::floor((beside.x() - map.x0) / map.cell),
               row = std::floor((beside.y() - map.y0) / map.cell);
  double most = nowhere;
  for (int k = 0; k < 9; ++k) {
    const int right = k % 3 - 1, up = k / 3 - 1;
    const double i = column + right, j = row + up;
    if (!(i >= 0 && j >= 0 && i < map.columns && j < map.rows)) continue;
    const double floor = map.at(static_cast<int>(i), static_cast<int>(j));
    const double reach = in.reached.at(static_cast<int>(i), static_cast<int>(j));
    if (floor > nowhere && reach > nowhere) most = std::max(most, reach - floor);
  }
  return most > nowhere ? most : 0;
}

// Puts points beside their neighbours: from each the nearest not yet taken, as long as one lies
// within a few cells; then the next piece of seam starts.
void put_in_order(std::vector<SeamPoint>& points, double cell) {
  std::vector<SeamPoint> out;
  std::vector<bool> taken(points.size());
  out.reserve(points.size());
  std::size_t next = 0;
  while (out.size() < points.size()) {
    while (taken[next]) ++next;
    std::size_t at = next;
    while (true) {
      taken[at] = true;
      out.push_back(points[at]);
      std::size_t nearest = points.size();
      double least = 9 * cell * cell;
      for (std::size_t k = next; k < points.size(); ++k) {
        if (taken[k]) continue;
        const double away = (points[k].place - points[at].place).squaredNorm();
        if (away < least) {
          least = away;
          nearest = k;
        }
      }
      if (nearest == points.size()) break;
      at = nearest;
    }
  }
  points = std::move(out);
}

Reading reading(const std::vector<SeamPoint>& points, const RigidMotion& later_from_plan) {
  using Row = Eigen::Vector4d;
  const double scale = 100;  // mm: turn and shear as mm over it, so that all unknowns weigh alike
  const Eigen::Matrix2d turned = later_from_plan.linear().topLeftCorner<2, 2>();
  Vec2 middle = Vec2::Zero();
  for (const SeamPoint& p : points) middle += p.place;
  middle /= static_cast<double>(points.size());
  Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
  Row right = Row::Zero();
  std::vector<Row> rows;
  for (const SeamPoint& p : points) {
    const Vec2 n = turned * p.outward, r = turned * (p.place - middle) / scale;
    rows.push_back(Row(n.x(), n.y(), n.y() * r.x() - n.x() * r.y(), n.x() * r.y()));
    normal += rows.back() * rows.back().transpose();
    right += rows.back() * p.step;
  }
  // What hardly any wall shows is left at 0 rather than guessed.
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix4d> solver(normal);
  const double largest = solver.eigenvalues().maxCoeff();
  Row answer = Row::Zero();
  for (int k = 0; k < 4; ++k) {
    const double value = solver.eigenvalues()[k];
    if (!(value > 1e-4 * largest)) continue;
    const Row way = solver.eigenvectors().col(k);
    answer += way * (way.dot(right) / value);
  }
  double sum = 0;
  for (std::size_t i = 0; i < points.size(); ++i)
    sum += std::pow(points[i].step - rows[i].dot(answer), 2);
  return {answer[0], answer[1], std::atan(answer[2] / scale) * deg_per_rad, answer[3],
          std::sqrt(sum / static_cast<double>(points.size()))};
}

// Where material is meant to stay the walls are a support's, and rounded at its root by the cutter:
// they tell nothing of how the sides meet.
bool meant(const SeamPoint& p, const SeamInputs& in) {
  return std::any_of(in.supports.begin(), in.supports.end(),
                     [&](const Box3& box) { return box.exteriorDistance(p.at) < 2 * in.cell; });
}

void sum_up(Seam& out, const SeamInputs& in) {
  for (std::size_t i = 1; i < out.points.size(); ++i) {
    const double along = (out.points[i].place - out.points[i - 1].place).norm();
    if (along < 3 * in.cell) out.length_mm += along;
  }
  const double each = out.length_mm / static_cast<double>(out.points.size());
  out.least_overlap = out.points.front().overlap;
  out.proudest = out.deepest = out.points.front().step;
  for (std::size_t i = 0; i < out.points.size(); ++i) {
    const SeamPoint& p = out.points[i];
    out.mean += std::abs(p.step) / static_cast<double>(out.points.size());
    out.proudest = std::max(out.proudest, p.step);
    out.deepest = std::min(out.deepest, p.step);
    if (std::abs(p.step) > out.worst) {
      out.worst = std::abs(p.step);
      out.worst_point = i;
    }
    if (p.overlap < 0) out.web_mm += each;
    if (p.overlap < out.least_overlap) {
      out.least_overlap = p.overlap;
      out.web_point = i;
    }
  }
}

}  // namespace

Seam seam(const SeamInputs& in) {
  Seam out;
  for (const Stretch& later : in.later) {
    const auto found = in.earlier.continued(later);
    if (!found || std::abs(found->step) > in.met_within) continue;
    const Stretch& earlier = in.earlier.stretches()[found->earlier];
    SeamPoint p;
    const double height = 0.5 * (earlier.edge + later.edge);
    p.place = later.at_height(height);
    p.at = in.stock_from_plan * Vec3(p.place.x(), p.place.y(), height);
    p.outward = (earlier.outward + later.outward).normalized();
    p.step = found->step;
    p.overlap = overlap_beside(in, p.place, p.outward, p.step);
    p.by = later.by;
    p.by_earlier = earlier.by;
    if (!meant(p, in)) out.points.push_back(p);
  }
  if (out.points.empty()) return out;
  put_in_order(out.points, in.cell);
  sum_up(out, in);
  out.reading = reading(out.points, in.stock_from_later.inverse() * in.stock_from_plan);
  return out;
}

}  // namespace proveout::flip
