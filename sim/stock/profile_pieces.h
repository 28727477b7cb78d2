// The convex pieces a polygonal profile is the union of: split at its hollow corners by planes
// square to the axis. Along a straight way a convex body is met once; a hollow one, like a T slot
// cutter, may be left and met again.
#pragma once

#include "sim/stock/sweep.h"

namespace proveout::stock {

// The end of the piece that begins at an edge: of edges [first, end), heights never falling.
// static: compiled once for each instruction set.
static inline const ProfileEdge* end_of_piece(const ProfileEdge* first, const ProfileEdge* end) {
  constexpr float least_turn = 1e-6f;  // sine: below, two edges are one
  const ProfileEdge* to = first + 1;
  for (; to != end; ++to) {
    const ProfileEdge& before = *(to - 1);
    const float turn = before.nr * to->nh - before.nh * to->nr;
    const float along = before.nr * to->nr + before.nh * to->nh;
    if (turn < -least_turn || (turn <= least_turn && along < 0)) break;
  }
  return to;
}

// A step of no height bounds nothing.
static inline bool has_height(const ProfileEdge* first, const ProfileEdge* end) {
  return (end - 1)->h1 > first->h0;
}

}  // namespace proveout::stock
