// The box that a zero on milled faces is taken from.
#pragma once

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "sim/run/result.h"

namespace proveout::pipeline {

// Of what the setups of `done` left, along the machine's axes of `setup`, mm, within its zero's
// band. Turned by quarters its faces come from the grid, which holds them; at any other angle from
// the motions' own distances (measure::exact_extent), as an edge that lies aslant in the grid is
// cut off there by a third of a voxel. Warning (code): zero-uncertain, where the two contradict
// each other or the search was ended early; then the larger box is given; and where the band ends
// at a ledge, which is then left out.
Box3 milled_extent(const run::JobResult& done, const job::Setup& setup, Diagnostics& diagnostics);

}  // namespace proveout::pipeline
