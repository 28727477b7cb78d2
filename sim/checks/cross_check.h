// The comparison with the part looked at a second and a third way.
#pragma once

#include "sim/measure/missing_part.h"
#include "sim/measure/two_way.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"

namespace proveout::checks {

// A finding where the ways disagree beyond what each is right to:
// - the volume left, which smeared occupancies of the grid give, differs from the mesh's by what is
//   left on less what is missing (measure::cross_check_bound);
// - motions and grid tell the same side of every voxel looked at;
// - places of the part that lie in air, told by a lattice over its inside, are no more than what is
//   missing: half as much again, and eight points' worth.
void cross_check(const run::JobResult& result, const run::PartResult& part,
                 const measure::TwoWay& found, const measure::MissingPart& lattice,
                 FindingCollector& findings);

}  // namespace proveout::checks
