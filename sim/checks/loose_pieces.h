// After which motion a piece comes free of the work.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "sim/stock/stock.h"

namespace proveout::checks {

struct Loosening {
  std::size_t motion = 0;  // index: before it the piece hangs on, after it no more
};

// before: the stock as it was before the first of motions; it is cut here. kept and piece: places
// (stock coordinates, mm) inside the piece that stays and inside the one that comes free, both in
// material at the end. nullopt: they still hang together at the end, or never did. Replays about as
// much as the motions once, in halves, and looks whether both places hang together after each.
std::optional<Loosening> find_loosening(stock::Stock before, std::span<const nc::Motion> motions,
                                        std::span<const stock::ToolRun> uses,
                                        const RigidMotion& stock_from_setup, const Vec3& kept,
                                        const Vec3& piece, int threads);

}  // namespace proveout::checks
