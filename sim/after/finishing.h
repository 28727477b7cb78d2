// Which motions leave the surface that stays: with other feeds, levels or rows it would look other.
#pragma once

#include <vector>

#include "sim/run/result.h"

namespace proveout::after {

// One list a setup, one entry a motion. A feed motion finishes where it, or one with the same tool
// and no rapid between that is within three voxels of path, made surface of what is left at the
// end, or its tip ran along it to a voxel: with a part only such as lies within two voxels (or the
// excess tolerance, if more) of it, without one all; and all of a stretch (one tool, no rapid
// between) of whose way a fifth or more does so. A rapid never does. All false of a result without
// its stock.
std::vector<std::vector<bool>> finishing_motions(const run::JobResult& result);

}  // namespace proveout::after
