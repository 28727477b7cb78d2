// Whether a later side meets what earlier setups left from the opposite side.
#pragma once

#include <map>
#include <optional>

#include "sim/flip/flip.h"
#include "sim/run/result.h"
#include "sim/solid/part_distance.h"
#include "sim/solid/tool_body.h"

namespace proveout::checks {

// What must be kept of the stock before the later setup cuts it.
struct SidesBefore {
  std::size_t earlier = 0;  // index of the nearest earlier setup from the opposite side
  flip::EarlierWalls walls;
  measure::HeightMap left;  // in that setup's frame
};

// stock: as setups before `pose` left it; result: holds those setups. nullopt: none of them came
// from the opposite side.
std::optional<SidesBefore> look_before_turning(const run::JobResult& result,
                                               const stock::Stock& stock,
                                               const RigidMotion& stock_from_later);

struct SidesContext {
  const job::Setup& setup;  // the later one
  Box3 blank;               // stock coordinates
  Box3 milled;              // as setup::stock_from_setup took it
  const solid::PartDistance* part = nullptr;
  const std::map<int, solid::ToolBody>& bodies;  // by tool number
};

// Compares the sides after the later setup has cut and before pieces are taken away, and says what
// was found. result: holds the setups before it, and the stock.
flip::Flip check_flip(const run::JobResult& result, const run::SetupResult& later,
                      const SidesBefore& before, const SidesContext& context,
                      FindingCollector& findings);

}  // namespace proveout::checks
