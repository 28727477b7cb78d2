// Moves at feed through air, and the same program with them at rapid: what it would win.
#pragma once

#include <cstdint>
#include <vector>

#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "parser/nc/program.h"
#include "sim/run/result.h"

namespace proveout::after {

// A program that was changed, and which motion of the first one each of its motions comes from.
struct ChangedProgram {
  nc::Program program;
  std::vector<std::uint32_t> from;
};

// Stays at the feed before, behind and beside material, mm of path (common practice is 1 to 2 mm,
// no source); what is left of an air way must be this long to count (choice).
inline constexpr double kept_at_feed = 2, least_at_rapid = 5;
// mm from a fixture, all of tool and holder: nearer, a rapid leaves no time for the hand on the
// stop button (choice).
inline constexpr double kept_from_fixtures = 10;

// Straight feed moves, or the parts of them, that met nothing and lie clear of where the blank was
// go at rapid, whole arcs at the fastest feed the axes have. Clear: the tip kept_at_feed above the
// box about the blank as it lies in the setup, or the tool as far beside it. What meets nothing
// within that box may go along a finished wall (a spring pass) or beside what is left, and stays at
// its feed, as do drills and taps, what rapids are no faster for, and, on a machine whose axes go
// each by its own ramp, moves of more than one axis (they get the fastest feed). So does what
// passes a fixture nearer than kept_from_fixtures, and, of a line that runs more than once, what
// meets something in one of its runs: one line is posted one way. blank: its box, stock
// coordinates, mm; fixtures: boxes about them, setup frame, mm.
ChangedProgram air_at_rapid(const run::SetupResult& setup, const job::Job& job, const Box3& blank,
                            const std::vector<Box3>& fixtures);
ChangedProgram unchanged(const run::SetupResult& setup);

}  // namespace proveout::after
