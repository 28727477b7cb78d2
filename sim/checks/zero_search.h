// When a setup's declared zero looks wrong: which other corner, middle or face of blank or milled
// piece would have fitted the program. Told on a coarse stock.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/geometry.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/solid/part_distance.h"
#include "sim/solid/tool_body.h"

namespace proveout::checks {

// Why a zero is doubted, in words; nullopt: no cause. Causes, each far beyond a single bad move:
// gouges of more than a hundredth of what the setup removed; more than a fifth of what it removed
// taken at three times the tool's depth limit or more; a tip more than 3 mm below the blank;
// nothing, or next to nothing, removed by feed moves; rapids through material that take more than a
// twentieth of it; most feed moves beside the blank by more than the tool's radius.
std::optional<std::string> why_zero_is_doubted(const run::SetupResult& setup, const job::Job& job,
                                               const std::string& material, const Box3& blank);

// The first feed move made with the spindle turning, in a setup that removes nothing at all;
// nullopt: it removes something, or was never meant to cut.
std::optional<std::size_t> only_air(const run::SetupResult& setup);

struct ZeroSearchInput {
  const job::Job& job;
  const job::Setup& setup;
  const run::SetupResult& done;  // with its program and pose
  const std::map<int, solid::ToolBody>& bodies;
  const solid::PartDistance* part = nullptr;  // may be null
  Box3 blank;                                 // stock coordinates
  const stock::Stock& before;                 // as this setup finds it, at the voxel of the search
  int threads = 0;
  // "moved by [0, 0, 2]" or turned half round, where that fits by the surface it left.
  std::string shifted;
  std::function<bool(double)> progress;  // share done; false: stop
};

// Cuts the setup's program once for each zero and ranks them by what is rightly removed less
// twenty times what is cut out of the part or by rapids. Lengths are told to a voxel of before.
// nullopt: progress asked to stop.
std::optional<run::ZeroSearch> search_zero(const ZeroSearchInput& in);

// The finding of a search that found a zero that fits.
Finding zero_finding(const run::ZeroSearch& search, const run::SetupResult& setup);

// Edge of the search's voxels: mm. A quarter of the smallest cutter or more, so that a search takes
// about as long as the setup itself.
double zero_search_voxel(const job::Job& job, const Box3& blank, double voxel);

// The same for a setup that removes nothing, whether another zero fits or none does: a run that
// cuts only air must not come back clean. first_feed: what only_air gave.
Finding air_finding(const run::ZeroSearch& search, const run::SetupResult& setup,
                    std::size_t first_feed);

}  // namespace proveout::checks
