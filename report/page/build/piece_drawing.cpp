#include "report/page/build/piece_drawing.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "sim/measure/measure.h"
#include "sim/measure/section.h"

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;
using Points = std::vector<Eigen::Vector2d>;

double off_line(const Eigen::Vector2d& p, const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
  const Eigen::Vector2d along = b - a;
  const double length2 = along.squaredNorm();
  const double t = length2 > 0 ? std::clamp((p - a).dot(along) / length2, 0.0, 1.0) : 0;
  return (p - a - t * along).norm();
}

// Douglas and Peucker, The Canadian Cartographer 10 (1973) 112-122: keeps what lies off the chord.
void thin(const Points& from, std::size_t first, std::size_t last, Json& out) {
  constexpr double tolerance = 0.03;  // mm
  std::size_t furthest = first;
  double most = tolerance;
  for (std::size_t k = first + 1; k < last; ++k) {
    const double off = off_line(from[k], from[first], from[last]);
    if (off > most) {
      most = off;
      furthest = k;
    }
  }
  if (furthest != first) {
    thin(from, first, furthest, out);
    thin(from, furthest, last, out);
    return;
  }
  for (const double v : {from[first].x(), from[first].y()})
    out.push_back(std::round(v * 100) / 100);
}

Json section_json(const stock::Stock& stock, const RigidMotion& stock_from_plane, double at) {
  Json contours = Json::array();
  for (measure::Contour& contour : measure::section(stock, stock_from_plane).contours) {
    if (contour.points.size() < 3 || std::abs(contour.area_mm2) < 0.5) continue;  // a crumb
    contour.points.push_back(contour.points.front());
    Json points = Json::array();
    thin(contour.points, 0, contour.points.size() - 1, points);
    contours.push_back(std::move(points));
  }
  return {{"at", std::round(at * 100) / 100}, {"contours", contours}};
}

}  // namespace

Json piece_drawing(const stock::Stock& stock, const RigidMotion& stock_from_setup) {
  const RigidMotion setup_from_stock = stock_from_setup.inverse();
  Box3 box = measure::extent(stock, setup_from_stock.linear());
  if (box.isEmpty()) return nullptr;
  box.translate(setup_from_stock.translation());
  const double in = std::min(0.5, 0.1 * box.sizes().z()), y = box.center().y();
  Json plan = Json::array();
  for (const double z : {box.max().z() - in, box.min().z() + in})
    plan.push_back(section_json(stock, stock_from_setup * Eigen::Translation3d(0, 0, z), z));
  // The section's own y is the setup's z.
  const RigidMotion front =
      stock_from_setup * Eigen::Translation3d(0, y, 0) * Eigen::AngleAxisd(pi / 2, Vec3::UnitX());
  // Over all but what is as thin as a skin at top and bottom: a caliper does not feel that.
  Box3 over_all =
      measure::extent(stock, setup_from_stock.linear(), std::pair(in, box.sizes().z() - in));
  over_all.translate(setup_from_stock.translation());
  const auto corner = [](const Vec3& p) {
    Json out = Json::array();
    for (int a = 0; a < 3; ++a) out.push_back(std::round(p[a] * 100) / 100);
    return out;
  };
  return {{"plan", plan},
          {"front", Json::array({section_json(stock, front, y)})},
          {"low", corner(over_all.min())},
          {"high", corner(over_all.max())}};
}

}  // namespace proveout::page
