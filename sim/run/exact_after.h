// The stock without a grid, by the motions of a job's setups.
#pragma once

#include <map>
#include <memory>

#include "sim/run/result.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/exact_stock.h"

namespace proveout::run {

// After so many of the result's setups. blank and bodies (by tool number) must outlive it, and so
// must the result. region: mm, stock coordinates; nothing is asked outside it by more than four
// voxels. Tiles are those of 32 voxels that the stock is looked at by.
std::unique_ptr<const stock::ExactStock> exact_after(const JobResult& result, std::size_t setups,
                                                     const stock::BlankShape& blank,
                                                     const std::map<int, solid::ToolBody>& bodies,
                                                     Box3 region);

}  // namespace proveout::run
