// How fine a height map the tools of a job can be held against in bounded time.
#pragma once

#include "parser/job/job.h"
#include "parser/mesh/mesh.h"

namespace proveout::reach {

// wanted (mm), or the step above it at which all setups and tools together take no more than
// `most` comparisons of a point of the map with a spot of a cutter. part: stock coordinates. A tool
// far wider than the smallest covers millions of spots of a map made for that one.
double affordable_step(const job::Job& job, const mesh::Mesh& part, double wanted, double most);

}  // namespace proveout::reach
