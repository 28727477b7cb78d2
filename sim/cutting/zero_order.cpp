#include "sim/cutting/zero_order.h"

#include <algorithm>
#include <cmath>

#include "parser/base/geometry.h"

namespace proveout::cutting {
namespace {

using Complex = std::complex<double>;

// Frequencies close together about every mode, where the response turns, and wider apart between.
std::vector<double> frequencies_of(const Response& x, const Response& y) {
  std::vector<double> out;
  for (const Response* r : {&x, &y}) {
    for (const ResponseTerm& t : *r) {
      if (!(t.frequency > 0)) continue;
      // From a quarter to four times the mode, steps growing with the distance from it.
      constexpr int steps = 500;
      const double reach = std::asinh(3.0 / std::max(t.damping, 1e-4));
      for (int i = -steps; i <= steps; ++i) {
        const double f = t.frequency * (1 + t.damping * std::sinh(reach * i / steps));
        if (f > 0.25 * t.frequency) out.push_back(f);
      }
    }
  }
  std::sort(out.begin(), out.end());
  out.erase(std::unique(out.begin(), out.end()), out.end());
  return out;
}

}  // namespace

ResponseTerm plain_mode(double frequency_hz, double damping, double stiffness_n_mm) {
  const double wn = 2 * pi * frequency_hz;
  return {frequency_hz, damping, wn * wn / stiffness_n_mm, 0};
}

Complex response_at(const Response& response, double frequency_hz) {
  const double w = 2 * pi * frequency_hz;
  Complex sum = 0;
  for (const ResponseTerm& t : response) {
    const double wn = 2 * pi * t.frequency;
    sum += Complex(t.alpha, w * t.beta) / Complex(wn * wn - w * w, 2 * t.damping * wn * w);
  }
  return sum;
}

std::array<double, 4> directional_factors(double kr, double enter, double exit) {
  const auto at = [kr](double p) {
    const double c = std::cos(2 * p), s = std::sin(2 * p);
    return std::array<double, 4>{0.5 * (c - 2 * kr * p + kr * s), 0.5 * (-s - 2 * p + kr * c),
                                 0.5 * (-s + 2 * p + kr * c), 0.5 * (-c - 2 * kr * p - kr * s)};
  };
  const auto a = at(enter), b = at(exit);
  return {b[0] - a[0], b[1] - a[1], b[2] - a[2], b[3] - a[3]};
}

ZeroOrder::ZeroOrder(const Response& x, const Response& y, const Cutting& cutting)
    : teeth_(std::max(1, cutting.teeth)) {
  if (!(cutting.kt > 0) || !(cutting.exit > cutting.enter)) return;
  add_curves(x, y, directional_factors(cutting.kr, cutting.enter, cutting.exit), cutting.kt);
}

// One direction only: L = -1 / (a G) gives the depth 2 pi / (N Kt a Re G); a = -2 arc makes that
// -1 / (2 Ks Re G N*) with N* = N arc / 2 pi.
ZeroOrder ZeroOrder::of_one_direction(const Response& oriented, double arc, double ks, int teeth) {
  ZeroOrder out;
  out.teeth_ = std::max(1, teeth);
  out.add_curves(oriented, {}, {-2 * arc, 0, 0, 0}, ks);
  return out;
}

void ZeroOrder::add_curves(const Response& x, const Response& y,
                           const std::array<double, 4>& factors, double kt) {
  const auto [axx, axy, ayx, ayy] = factors;
  std::array<Complex, 2> before{0, 0};
  std::array<bool, 2> open{false, false};
  std::array<std::size_t, 2> curve{0, 0};
  for (double f : frequencies_of(x, y)) {
    const Complex gx = response_at(x, f), gy = response_at(y, f);
    const Complex a0 = gx * gy * (axx * ayy - axy * ayx), a1 = axx * gx + ayy * gy;
    std::array<Complex, 2> roots;
    int count = 2;
    if (std::abs(a0) < 1e-12 * std::norm(a1) || a0 == 0.0) {
      count = 1;  // flexible one way only
      if (a1 == 0.0) continue;
      roots[0] = -1.0 / a1;
    } else {
      const Complex root = std::sqrt(a1 * a1 - 4.0 * a0);
      roots = {-(a1 + root) / (2.0 * a0), -(a1 - root) / (2.0 * a0)};
      // The roots keep their names from one frequency to the next.
      if (std::abs(roots[0] - before[0]) + std::abs(roots[1] - before[1]) >
          std::abs(roots[1] - before[0]) + std::abs(roots[0] - before[1]))
        std::swap(roots[0], roots[1]);
    }
    before = roots;
    for (int k = 0; k < count; ++k) {
      const auto i = static_cast<std::size_t>(k);
      const double re = roots[i].real(), im = roots[i].imag();
      const double kappa = im / re;
      const double depth = -2 * pi * re / (teeth_ * kt) * (1 + kappa * kappa);
      if (!(re < 0) || !std::isfinite(depth)) {
        open[i] = false;
        continue;
      }
      if (!open[i]) {
        curve[i] = curves_.size();
        curves_.emplace_back();
        open[i] = true;
      }
      curves_[curve[i]].push_back({f, depth, pi - 2 * std::atan(kappa)});
      if (depth < least_) {
        least_ = depth;
        least_frequency_ = f;
      }
    }
  }
}

double ZeroOrder::limit(double rpm) const {
  if (!(rpm > 0)) return no_limit;
  const double tooth_rate = rpm * teeth_ / 60;
  double least = no_limit;
  for (const auto& curve : curves_) {
    for (std::size_t i = 1; i < curve.size(); ++i) {
      const Point &a = curve[i - 1], &b = curve[i];
      if (std::min(a.depth, b.depth) >= least) continue;
      // Whole waves between two teeth: a whole number of them, and the phase, is where a lobe meets
      // this speed.
      const double wa = a.frequency / tooth_rate - a.phase / (2 * pi);
      const double wb = b.frequency / tooth_rate - b.phase / (2 * pi);
      const double low = std::min(wa, wb), high = std::max(wa, wb);
      if (high - low >
          64) {  // so slow a spindle that lobes stand side by side: one is at either end
        least = std::min({least, a.depth, b.depth});
        continue;
      }
      for (double n = std::max(0.0, std::ceil(low)); n <= high; ++n) {
        const double share = wb == wa ? 0 : (n - wa) / (wb - wa);
        least = std::min(least, a.depth + share * (b.depth - a.depth));
      }
    }
  }
  return least;
}

}  // namespace proveout::cutting
