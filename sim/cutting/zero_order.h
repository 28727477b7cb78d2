// The stability of milling by the zero-order solution: the direction of the cutting force averaged
// over a turn, the tool's point as any number of modes in x and y. Altintas and Budak, "Analytical
// prediction of stability lobes in milling", CIRP Annals 44 (1995) 357; Altintas, "Manufacturing
// Automation"; Schmitz and Smith, "Machining Dynamics". What it leaves out: lobes where the
// vibration repeats every second tooth (period doubling), at small arcs and high speed.
#pragma once

#include <array>
#include <complex>
#include <vector>

namespace proveout::cutting {

// One term of a frequency response: (alpha + i w beta) / (wn^2 - w^2 + 2 i zeta wn w), mm/N; alpha
// in mm/(N s2), beta in mm/(N s). A plain mode of stiffness k has alpha = wn^2 / k and beta = 0.
struct ResponseTerm {
  double frequency = 0;  // Hz
  double damping = 0;    // ratio
  double alpha = 0, beta = 0;
};
ResponseTerm plain_mode(double frequency_hz, double damping, double stiffness_n_mm);

using Response = std::vector<ResponseTerm>;
// At a frequency in Hz, mm/N.
std::complex<double> response_at(const Response& response, double frequency_hz);

// The cut: teeth, specific force kt (N/mm2), radial over tangential force kr, and the arc in
// material. Angles in rad as in the sources: 0 where a tooth of an up-milling cut enters with no
// chip, the chip is feed times sine; x is the feed.
struct Cutting {
  int teeth = 2;
  double kt = 0, kr = 0.3;
  double enter = 0, exit = 0;
};

// axx, axy, ayx, ayy of the sources.
std::array<double, 4> directional_factors(double kr, double enter, double exit);

// Depths at which chatter begins, by chatter frequency; one curve for each of the two roots and
// frequency range.
class ZeroOrder {
 public:
  // x, y: at the tool's point, in and across the feed. An empty response is rigid.
  ZeroOrder(const Response& x, const Response& y, const Cutting& cutting);
  // The same with one response in the direction of the chip and an arc of that many rad in
  // material: the average-tooth form, whose mean number of teeth in cut is teeth arc / 2 pi.
  static ZeroOrder of_one_direction(const Response& oriented, double arc, double ks, int teeth);
  // Limit depth at a spindle speed, 1/min; mm. no_limit where none of the lobes stands over it.
  double limit(double rpm) const;
  // The least limit over all speeds, mm, and its chatter frequency, Hz.
  double least() const { return least_; }
  double least_frequency() const { return least_frequency_; }

  static constexpr double no_limit = 1e9;

 private:
  struct Point {
    double frequency = 0;  // Hz
    double depth = 0;      // mm
    double phase = 0;      // rad: epsilon, between this tooth's wave and the one before
  };
  ZeroOrder() = default;
  void add_curves(const Response& x, const Response& y, const std::array<double, 4>& factors,
                  double kt);
  std::vector<std::vector<Point>> curves_;
  int teeth_ = 2;
  double least_ = no_limit, least_frequency_ = 0;
};

}  // namespace proveout::cutting
