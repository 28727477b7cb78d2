// The piece that is left at the end: pieces, mass, and the surface against the part.
#pragma once

#include <functional>
#include <optional>

#include "sim/cutting/material.h"
#include "sim/run/finding.h"
#include "sim/solid/part_distance.h"
#include "sim/checks/loose_pieces.h"
#include "sim/run/result.h"

namespace proveout::checks {

// After the last setup: supports taken off, the part's piece kept, measured and compared. part may
// be null.
// Returns the piece that goes on, supports taken off.
stock::Stock check_part(run::JobResult& result, const solid::PartDistance* part,
                        const cutting::Material& material, FindingCollector& findings);

// Pieces after one setup: came-loose findings for those that fell off, with the line after which
// each was free; the one that goes on is kept. loosening: looks that up, for a place in the piece
// that stays and one in the other.
using LooseningLookup =
    std::function<std::optional<Loosening>(const Vec3& kept, const Vec3& piece)>;
void check_pieces(run::SetupResult& setup, stock::Stock& stock, const solid::PartDistance* part,
                  const LooseningLookup& loosening, FindingCollector& findings);

}  // namespace proveout::checks
