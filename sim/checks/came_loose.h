// Pieces that come free of the work in a setup.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "sim/checks/loose_pieces.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/solid/part_distance.h"

namespace proveout::checks {

// Looks up when a piece came free, for a place in the piece that stays and one in the other.
using LooseningLookup =
    std::function<std::optional<Loosening>(const Vec3& kept, const Vec3& piece)>;

// After a setup is cut: keeps of the stock the piece that goes on. came-loose findings for those
// that fell off, with the line after which each was free. Gives the volumes of all pieces (mm3),
// the one that goes on first. part may be null.
std::vector<double> check_pieces(const run::SetupCut& setup, stock::Stock& stock,
                                 const solid::PartDistance* part, const LooseningLookup& loosening,
                                 FindingCollector& findings);

}  // namespace proveout::checks
