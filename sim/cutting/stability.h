// Where a cut begins to chatter: one mode at the tool's point.
// Average-tooth form: Tlusty and Polacek; Schmitz and Smith, "Machining Dynamics", Eqs 6.1.1
// to 6.1.3.
#pragma once

#include "sim/cutting/zero_order.h"

namespace proveout::cutting {

struct Mode {
  double stiffness = 0;  // N/mm
  double frequency = 0;  // Hz
  double damping = 0;    // ratio
};

// Limit depth, mm, at a spindle speed (1/min), of an edge that feels one response in the direction
// of the chip (mm/N: the modes times their direction factors): the lobes b = -1 / (2 Ks Re G(f)
// N*), f / (n N / 60) = k + e/2pi. Ks: N/mm2; arc in material, rad.
double average_tooth_limit(const Response& oriented, double ks, int teeth, double arc, double rpm);
double average_tooth_limit(const Mode& mode, double ks, int teeth, double arc, double rpm);
// The least limit over all speeds: 2 k zeta (1 + zeta) / (Ks N*), mm.
double least_limit(const Mode& mode, double ks, int teeth, double arc);

}  // namespace proveout::cutting
