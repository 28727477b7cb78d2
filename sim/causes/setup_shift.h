// By which shift, or half a turn, a setup's surface in the stock would lie on the part.
#pragma once

#include <string>
#include <vector>

#include "parser/job/job.h"
#include "sim/causes/shift_fit.h"
#include "sim/run/result.h"

namespace proveout::causes {

// mm: by how much the radius a comment names is smaller than the declared one, negative where it is
// larger; the comment's figure in mm or inches, whichever is nearer. f: a 'tool-size-differs'.
double smaller_radius(const Finding& f);

// fit_shift of the surface a setup made and that is left in the stock, outside supports; where a
// comment names another size of tool, as that tool would have left it. findings: those so far.
// part_too: where no shift of the zero fits, one of the part within the blank is tried
// (fit_part_shift).
ShiftFit shift_of(const run::SetupResult& setup, const stock::Stock& stock,
                  const solid::PartDistance& part, const job::Job& job,
                  const std::vector<Finding>& findings, bool part_too);

// "moved by [0.00, 0.00, 2.00]", in the setup's axes: where the zero would lie; empty: not found.
std::string in_words(const ShiftFit& fit, const run::SetupResult& setup);

// "[0.00, 1.50, 0.00]", mm.
std::string list_of(const Vec3& v);

// "2.00 mm in x and 1.50 mm in z". shift: mm, any axes; tell: mm, what is less is left out.
std::string in_words(const Vec3& shift, double tell);

}  // namespace proveout::causes
