#include "sim/reach/inside_radius.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <queue>
#include <set>
#include <utility>
#include <vector>

namespace proveout::reach {
namespace {

using Vec2 = Eigen::Vector2d;

const double upright = std::sin(2 / deg_per_rad);
// Triangles between two rims whose vertices do not lie over each other lean a little.
const double leaning = std::sin(10 / deg_per_rad);
const double flat = 0.2 / deg_per_rad;  // two triangles of one facet
// mm: vertices lie so near to the circle they were put on (choice: three decimals and single
// precision, twice over). An arc that stands out from its chord by less than five times that, and
// turns by less than a sharp corner, is none.
constexpr double on_circle = 2e-3;
constexpr std::size_t fewest_on_arc = 4;
constexpr double largest_radius = 1e4;  // mm

struct Wall {  // an upright triangle beside an edge
  std::size_t triangle = 0;
  Vec3 far = Vec3::Zero();  // its third corner
  double width = 0;         // mm, level, from the edge to it
};
using Edge = std::pair<std::uint32_t, std::uint32_t>;
Edge edge_of(std::uint32_t a, std::uint32_t b) { return {std::min(a, b), std::max(a, b)}; }

// The circle nearest to places in the plane (Kasa: least squares of x2 + y2 + a x + b y + c), told
// about the first of them.
class Circle {
 public:
  explicit Circle(const Vec2& about) : about_(about) {}

  // False, and as it was before, where they and the new ones would not lie on one circle.
  bool take(const std::vector<Vec2>& more) {
    const Eigen::Matrix3d sums = sums_;
    const Eigen::Vector3d right = right_;
    const Vec2 centre = centre_;
    const double radius = radius_;
    const std::size_t count = places_.size();
    for (const Vec2& p : more) add(p);
    if (places_.size() < 3 || (solve() && all_on())) return true;
    sums_ = sums;
    right_ = right;
    centre_ = centre;
    radius_ = radius;
    places_.resize(count);
    return false;
  }
  bool has(const Vec2& p) const {
    return std::any_of(places_.begin(), places_.end(),
                       [&](const Vec2& known) { return (known - p).norm() < 1e-3; });
  }
  const std::vector<Vec2>& places() const { return places_; }
  const Vec2& centre() const { return centre_; }
  double radius() const { return radius_; }

 private:
  void add(const Vec2& p) {
    if (has(p)) return;
    const Eigen::Vector3d row(p.x() - about_.x(), p.y() - about_.y(), 1);
    sums_ += row * row.transpose();
    right_ -= row.head<2>().squaredNorm() * row;
    places_.push_back(p);
  }
  bool solve() {
    const Eigen::Vector3d abc = sums_.fullPivLu().solve(right_);
    const Vec2 middle = -0.5 * abc.head<2>();
    const double square = middle.squaredNorm() - abc.z();
    if (!(square > 0) || !(square < largest_radius * largest_radius)) return false;
    centre_ = about_ + middle;
    radius_ = std::sqrt(square);
    return true;
  }
  bool all_on() const {
    return std::all_of(places_.begin(), places_.end(), [&](const Vec2& p) {
      return std::abs((p - centre_).norm() - radius_) <= on_circle;
    });
  }

  Vec2 about_, centre_ = Vec2::Zero();
  double radius_ = 0;
  Eigen::Matrix3d sums_ = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right_ = Eigen::Vector3d::Zero();
  std::vector<Vec2> places_;
};

class Corners {
 public:
  Corners(const mesh::Mesh& mesh, const std::function<bool(const Vec3&, const Vec3&)>& seen)
      : mesh_(mesh), seen_(seen) {
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) add(i);
  }

  std::optional<InsideRadius> least() {
    for (const auto& [edge, walls] : edges_) {
      if (is_corner(edge, walls)) arc_about(edge, walls);
    }
    for (const auto& [edge, walls] : edges_) {
      if (is_corner(edge, walls)) by_chords(edge, walls);
    }
    return least_;
  }

 private:
  void add(std::size_t i) {
    const auto& t = mesh_.triangles[i];
    const Vec3 &a = mesh_.vertices[t[0]], &b = mesh_.vertices[t[1]], &c = mesh_.vertices[t[2]];
    const Vec3 cross = (b - a).cross(c - a);
    outward_.push_back(Vec3::Zero());
    if (!(cross.norm() > 0) || std::abs(cross.z()) > leaning * cross.norm()) return;
    outward_.back() = cross.normalized();
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3& far = mesh_.vertices[t[(k + 2) % 3]];
      const double width = (far - mesh_.vertices[t[k]]).head<2>().norm();
      edges_[edge_of(t[k], t[(k + 1) % 3])].push_back({i, far, width});
    }
  }

  Vec3 middle(const Edge& e) const {
    return (mesh_.vertices[e.first] + mesh_.vertices[e.second]) / 2;
  }
  Vec2 level(std::uint32_t vertex) const { return mesh_.vertices[vertex].head<2>(); }
  double turn(const std::vector<Wall>& walls) const {
    return std::acos(
        std::clamp(outward_[walls[0].triangle].dot(outward_[walls[1].triangle]), -1.0, 1.0));
  }
  Vec3 open(const std::vector<Wall>& walls) const {
    return outward_[walls[0].triangle] + outward_[walls[1].triangle];
  }

  // Two facets that turn, each on the open side of the other, in no arc yet.
  bool is_corner(const Edge& e, const std::vector<Wall>& walls) const {
    if (walls.size() != 2 || done_.contains(e)) return false;
    const Vec3 along = mesh_.vertices[e.second] - mesh_.vertices[e.first];
    if (std::abs(along.z()) < 0.1 * along.norm()) return false;
    return outward_[walls[0].triangle].dot(walls[1].far - middle(e)) > 0 && turn(walls) >= flat &&
           open(walls).norm() > 0;
  }

  void offer(double radius, const Edge& e) {
    if (!least_ || radius < least_->radius) least_ = InsideRadius{radius, middle(e)};
  }

  // All facets about an edge whose corners lie on one circle, the nearest first.
  void arc_about(const Edge& e, const std::vector<Wall>& walls) {
    if (!seen_(middle(e), open(walls).normalized())) return;
    const Vec2 from = level(e.first);
    Circle circle(from);
    std::set<std::size_t> in, tried;
    using Next = std::pair<double, std::size_t>;
    std::priority_queue<Next, std::vector<Next>, std::greater<>> next;
    const auto take = [&](std::size_t triangle) {
      if (!tried.insert(triangle).second) return;
      const auto& t = mesh_.triangles[triangle];
      std::vector<Vec2> more;
      for (const std::uint32_t v : t) more.push_back(level(v));
      if (!circle.take(more)) return;
      in.insert(triangle);
      for (std::size_t k = 0; k < 3; ++k) {
        const auto beside = edges_.find(edge_of(t[k], t[(k + 1) % 3]));
        if (beside == edges_.end() || beside->second.size() != 2) continue;
        for (const Wall& w : beside->second) {
          const Vec2 far = w.far.head<2>();
          if (!tried.contains(w.triangle)) next.emplace((far - from).norm(), w.triangle);
        }
      }
    };
    take(walls[0].triangle);
    take(walls[1].triangle);
    while (!next.empty()) {
      const std::size_t triangle = next.top().second;
      next.pop();
      take(triangle);
    }
    if (!is_arc(circle, in)) return;
    for (const std::size_t triangle : in) {
      const auto& t = mesh_.triangles[triangle];
      for (std::size_t k = 0; k < 3; ++k) {
        const Edge edge = edge_of(t[k], t[(k + 1) % 3]);
        const std::vector<Wall>& beside = edges_.at(edge);
        if (std::all_of(beside.begin(), beside.end(),
                        [&](const Wall& w) { return in.contains(w.triangle); }))
          done_.insert(edge);
      }
    }
    offer(circle.radius(), e);
  }

  // Enough places, that turn by little from one to the next, and by enough in all to be told.
  bool is_arc(const Circle& circle, const std::set<std::size_t>& in) const {
    if (circle.places().size() < fewest_on_arc) return false;
    std::vector<double> angles;
    for (const Vec2& p : circle.places()) {
      const Vec2 out = p - circle.centre();
      angles.push_back(std::atan2(out.y(), out.x()));
    }
    std::sort(angles.begin(), angles.end());
    double gap = 0, gap_middle = 0;
    for (std::size_t k = 0; k < angles.size(); ++k) {
      const double after = k + 1 < angles.size() ? angles[k + 1] : angles[0] + 2 * pi;
      if (after - angles[k] <= gap) continue;
      gap = after - angles[k];
      gap_middle = angles[k] + gap / 2;
    }
    const double n = static_cast<double>(angles.size());
    const bool closed = std::any_of(in.begin(), in.end(), [&](std::size_t t) {
      return spans(mesh_.triangles[t], circle.centre(), gap_middle);
    });
    const double all = closed ? 2 * pi : 2 * pi - gap;
    if (all / (closed ? n : n - 1) >= sharp_turn) return false;
    const double stands_out = circle.radius() * (1 - std::cos(std::min(all / 2, pi)));
    return all >= sharp_turn || stands_out >= 5 * on_circle;
  }

  // Whether a triangle, seen from the centre, lies across that angle.
  bool spans(const std::array<std::uint32_t, 3>& t, const Vec2& centre, double angle) const {
    double low = pi, high = -pi;
    for (const std::uint32_t v : t) {
      const Vec2 out = level(v) - centre;
      const double off = std::remainder(std::atan2(out.y(), out.x()) - angle, 2 * pi);
      low = std::min(low, off);
      high = std::max(high, off);
    }
    return low < 0 && high > 0 && high - low < pi;
  }

  // What lies in no arc: upright facets only, the shorter chord counts.
  void by_chords(const Edge& e, const std::vector<Wall>& walls) {
    const Vec3 along = mesh_.vertices[e.second] - mesh_.vertices[e.first];
    if (along.head<2>().norm() > upright * along.norm()) return;
    for (const Wall& w : walls) {
      if (std::abs(outward_[w.triangle].z()) > upright) return;
    }
    const double by = turn(walls);
    const double radius =
        by >= sharp_turn ? 0 : std::min(walls[0].width, walls[1].width) / 2 / std::tan(by / 2);
    if (least_ && radius >= least_->radius) return;
    if (seen_(middle(e), open(walls).normalized())) offer(radius, e);
  }

  const mesh::Mesh& mesh_;
  const std::function<bool(const Vec3&, const Vec3&)>& seen_;
  std::vector<Vec3> outward_;  // unit, one a triangle; zero: not upright
  std::map<Edge, std::vector<Wall>> edges_;
  std::set<Edge> done_;  // between two facets of one arc
  std::optional<InsideRadius> least_;
};

}  // namespace

std::optional<InsideRadius> smallest_inside_radius(
    const mesh::Mesh& mesh, const std::function<bool(const Vec3&, const Vec3&)>& seen) {
  return Corners(mesh, seen).least();
}

}  // namespace proveout::reach
