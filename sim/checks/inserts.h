// How far the finished piece is from its target mass, and which insert would make it up.
#pragma once

#include "sim/cutting/material.h"
#include "sim/run/result.h"

namespace proveout::checks {

// Volume of an insert (mm3) that makes up a mass (g): laid into a pocket it adds its own mass; in
// place of the part's own material (bored out) it adds the difference of the densities (g/cm3).
// missing_g < 0: too heavy. 0: this insert cannot do it that way.
double added_volume(double missing_g, double insert_density);
double replaced_volume(double missing_g, double insert_density, double own_density);

// finished: the piece with its supports off. Pockets are looked for from each setup's side, in
// cells of cell mm. Inserts tried: those of the material table that are no stock, and brass.
run::MassTarget weigh_against_target(const run::JobResult& result, const stock::Stock& finished,
                                     double own_density, double cell);

}  // namespace proveout::checks
