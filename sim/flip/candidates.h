// The ways a blank can be mistaken to lie for a later setup, and the ways its program can have been
// mirrored instead of turned.
#pragma once

#include <vector>

#include "parser/job/job.h"
#include "sim/flip/placement.h"

namespace proveout::flip {

// Whether two setups come at the work from opposite sides: their tool axes within a tenth of a
// degree of opposite.
bool opposed(const RigidMotion& stock_from_earlier, const RigidMotion& stock_from_later);

// candidates[0]: as declared. Then half-turned about z (a block turned about x instead of y), a
// quarter turn either way where the block is as wide as it is deep to a millimetre, and each of
// these with the program mirrored. blank: stock coordinates. milled: along the later setup's
// machine axes, what earlier setups left, empty where its zero is not on that (as
// setup::stock_from_setup takes it). Each placement's zero is found by the job's own rule on the
// block as it would then lie; a zero given as a point of the stock turns with the block.
std::vector<Candidate> candidates(const job::Setup& later, const RigidMotion& stock_from_earlier,
                                  const Box3& blank, const Box3& milled);

}  // namespace proveout::flip
