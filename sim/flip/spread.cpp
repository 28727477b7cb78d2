#include "sim/flip/spread.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/flip/web.h"

namespace proveout::flip {
namespace {

// An even draw in -1..1; the same on every machine.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : state_(seed) {}
  double operator()() {  // splitmix64 (Steele, Lea, Flood, OOPSLA 2014)
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    z ^= z >> 31;
    return static_cast<double>(z >> 11) * 0x1.0p-52 - 1;
  }
  Vec2 in_circle() {
    while (true) {
      const double x = (*this)(), y = (*this)();
      if (x * x + y * y <= 1) return {x, y};
    }
  }

 private:
  std::uint64_t state_;
};

struct Source {
  std::string what;
  double limit = 0;
  Off off;  // for an error of 1
};

struct Pins {
  double clearance = 0, distance = 0;
  RigidMotion plan_from_setup;
  Vec2 along;  // setup, unit: from pin to pin
  double sign = 1;
};

bool shares_zero(const job::Setup& later) { return later.located_by == job::LocatedBy::pins; }

Off zero_off(const SpreadInputs& in, int axis, bool of_earlier, bool of_later) {
  Off off;
  if (of_later) off.shift += in.plan_from_later.linear().col(axis);
  if (of_earlier) off.shift -= Vec3::Unit(axis);
  return off;
}

Off lean_off(const SpreadInputs& in) {
  Eigen::Matrix2d lean = Eigen::Matrix2d::Zero();
  lean(0, 1) = 1.0 / 100;  // mm over 100 mm
  const Eigen::Matrix2d turned = in.plan_from_later.linear().topLeftCorner<2, 2>();
  Off off;
  off.with_place = turned * lean * turned.transpose() - lean;
  return off;
}

void add_zero(const SpreadInputs& in, const job::Setup& setup, const Vec3& zero, bool of_earlier,
              bool of_later, std::vector<Source>& out) {
  for (int axis = 0; axis < 3; ++axis) {
    const double limit = zero[axis];
    if (!(limit > 0)) continue;
    out.push_back(
        {fmt::format("zero of setup {} off by {:g} mm in {}", setup.name, limit, "xyz"[axis]),
         limit, zero_off(in, axis, of_earlier, of_later)});
  }
}

std::vector<Source> sources(const SpreadInputs& in) {
  std::vector<Source> out;
  const bool follows = in.later.zero.on == job::ZeroOn::milled && !in.later.zero.at;
  const auto& a = in.earlier.errors;
  const auto& b = in.later.errors;
  if (b) add_zero(in, in.later, b->zero, shares_zero(in.later), true, out);
  if (a && !follows && !(b && shares_zero(in.later)))
    add_zero(in, in.earlier, a->zero, true, shares_zero(in.later), out);
  const double lean = std::max(a ? a->squareness : 0, b ? b->squareness : 0);
  if (lean > 0)
    out.push_back(
        {fmt::format("machine out of square by {:g} mm over 100", lean), lean, lean_off(in)});
  const double thick = std::max(a ? a->thickness : 0, b ? b->thickness : 0);
  // Both heights taken from the upper face as the work lies, or both from the lower: from opposite
  // faces of the blank.
  if (thick > 0 && in.earlier.zero.z == in.later.zero.z && !in.earlier.zero.at &&
      !in.later.zero.at) {
    Off off;
    off.shift = Vec3::UnitZ();
    out.push_back({fmt::format("blank's thickness off by {:g} mm", thick), thick, off});
  }
  return out;
}

std::vector<Pins> pins(const SpreadInputs& in) {
  // The pins stand on the turning line: what turning leaves in place.
  const Eigen::Matrix2d turned = in.plan_from_later.linear().topLeftCorner<2, 2>();
  const Vec2 along = turned(0, 0) > 0 ? Vec2::UnitX() : Vec2::UnitY();
  std::vector<Pins> out;
  const auto add = [&](const auto& errors, const RigidMotion& plan_from_setup, double sign) {
    if (errors && errors->pin_clearance > 0)
      out.push_back({errors->pin_clearance, errors->pin_distance, plan_from_setup, along, sign});
  };
  add(in.earlier.errors, RigidMotion::Identity(), -1);
  add(in.later.errors, in.plan_from_later, 1);
  return out;
}

// Both holes moved within the clearance's circle: u1, u2 in units of half the clearance.
Off pin_off(const Pins& p, const Vec2& u1, const Vec2& u2) {
  const double half = p.clearance / 2;
  const Vec2 shift = 0.5 * half * (u1 + u2), apart = half * (u2 - u1);
  const double turn =
      p.distance > 0 ? (p.along.x() * apart.y() - p.along.y() * apart.x()) / p.distance : 0;
  Eigen::Matrix2d round = Eigen::Matrix2d::Zero();
  round(0, 1) = -turn;
  round(1, 0) = turn;
  const Eigen::Matrix3d& to_plan = p.plan_from_setup.linear();
  const Eigen::Matrix2d plane = to_plan.topLeftCorner<2, 2>();
  Off off;
  off.shift = p.sign * (to_plan * Vec3(shift.x(), shift.y(), 0));
  off.with_place = p.sign * (plane * round * plane.transpose());
  return off;
}

double largest_change(const SpreadInputs& in, const Off& off) {
  double most = 0;
  for (const SeamPoint& p : in.seam.points)
    most = std::max(most, std::abs(p.outward.dot(off.at(p.place - in.middle))));
  return most;
}

double worst_step(const SpreadInputs& in, const Off& off) {
  double most = 0;
  for (const SeamPoint& p : in.seam.points)
    most = std::max(most, std::abs(p.step + p.outward.dot(off.at(p.place - in.middle))));
  return most;
}

double quantile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  const double at = share * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(at);
  const std::size_t high = std::min(low + 1, values.size() - 1);
  return values[low] + (at - static_cast<double>(low)) * (values[high] - values[low]);
}

}  // namespace

Spread spread(const SpreadInputs& in) {
  Spread out;
  if (in.seam.points.empty()) return out;
  for (int axis = 0; axis < 2; ++axis) {
    const double amount = 0.1;
    Off off;
    off.add(zero_off(in, axis, shares_zero(in.later), true), amount);
    out.each.push_back({fmt::format("0.1 mm in {}", "xy"[axis]), amount, largest_change(in, off)});
  }
  const std::vector<Source> all = sources(in);
  const std::vector<Pins> on_pins = pins(in);
  for (const Source& s : all) {
    Off off;
    off.add(s.off, s.limit);
    out.each.push_back({s.what, s.limit, largest_change(in, off)});
  }
  for (const Pins& p : on_pins) {
    const Vec2 across(-p.along.y(), p.along.x());
    out.each.push_back({fmt::format("pins with {:g} mm clearance", p.clearance), p.clearance,
                        std::max({largest_change(in, pin_off(p, across, across)),
                                  largest_change(in, pin_off(p, p.along, p.along)),
                                  largest_change(in, pin_off(p, -across, across))})});
  }
  if (all.empty() && on_pins.empty()) return out;

  const Web web(in.left, in.reached, in.middle);
  out.has_web = !web.empty();
  if (out.has_web) out.least_web = web.least(Off());
  out.draws = in.draws;
  out.seed = in.seed;
  Draw draw(in.seed);
  std::vector<double> worst, thin;
  int through = 0;
  for (int k = 0; k < in.draws; ++k) {
    Off off;
    for (const Source& s : all) off.add(s.off, s.limit * draw());
    for (const Pins& p : on_pins) {
      const Vec2 u1 = draw.in_circle(), u2 = draw.in_circle();
      off.add(pin_off(p, u1, u2), 1);
    }
    worst.push_back(worst_step(in, off));
    if (!out.has_web) continue;
    thin.push_back(web.least(off));
    through += thin.back() <= 0 ? 1 : 0;
  }
  out.median_worst = quantile(worst, 0.5);
  out.high_worst = quantile(worst, 0.95);
  if (out.has_web) {
    out.low_web = quantile(thin, 0.05);
    out.break_through = static_cast<double>(through) / in.draws;
  }
  return out;
}

}  // namespace proveout::flip
