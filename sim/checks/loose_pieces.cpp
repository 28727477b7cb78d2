#include "sim/checks/loose_pieces.h"

#include <algorithm>

#include "sim/measure/measure.h"

namespace proveout::checks {
namespace {

// Cuts motions [first, last) of a setup.
void cut_range(stock::Stock& stock, std::span<const nc::Motion> motions,
               std::span<const stock::ToolRun> uses, const RigidMotion& stock_from_setup,
               std::size_t first, std::size_t last, int threads) {
  std::vector<stock::ToolRun> part;
  for (const stock::ToolRun& u : uses) {
    const std::size_t a = std::max(u.first, first), b = std::min(u.last, last);
    if (a < b) part.push_back({a - first, b - first, u.body});
  }
  stock::CutOptions options;
  options.threads = threads;
  options.shank_and_holder = false;
  stock.cut(motions.subspan(first, last - first), part, stock_from_setup,
            static_cast<stock::MotionId>(first + 1), options);
}

}  // namespace

std::optional<Loosening> find_loosening(stock::Stock before, std::span<const nc::Motion> motions,
                                        std::span<const stock::ToolRun> uses,
                                        const RigidMotion& stock_from_setup, const Vec3& kept,
                                        const Vec3& piece, int threads) {
  if (!measure::hang_together(before, kept, piece)) return std::nullopt;
  std::size_t together = 0, apart = motions.size();  // after that many motions
  while (apart - together > 1) {
    const std::size_t middle = together + (apart - together) / 2;
    stock::Stock tried = before.clone();
    cut_range(tried, motions, uses, stock_from_setup, together, middle, threads);
    if (measure::hang_together(tried, kept, piece)) {
      before = std::move(tried);
      together = middle;
    } else {
      apart = middle;
    }
  }
  cut_range(before, motions, uses, stock_from_setup, together, apart, threads);
  if (measure::hang_together(before, kept, piece)) return std::nullopt;
  return Loosening{apart - 1};
}

}  // namespace proveout::checks
