// What filling the columns of the engaged area costs can only be told beside an engine that does
// not: the rival in tests/bench/stock_bench.cpp.
#pragma once

#include <span>

#include "sim/stock/stock.h"

namespace proveout::stock {

// Stock::cut with all work on the columns left out: samples have none. The stock comes out the
// same.
Cut cut_without_areas(Stock& stock, std::span<const nc::Motion> motions,
                      std::span<const ToolRun> tools, const RigidMotion& stock_from_setup,
                      MotionId first_id, const CutOptions& options);

}  // namespace proveout::stock
