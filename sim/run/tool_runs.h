// A program's motions as tool runs, as the stock is cut by them.
#pragma once

#include <map>
#include <vector>

#include "parser/nc/program.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::run {

// Motions in a row made with one tool.
std::vector<stock::ToolRun> tool_runs(const nc::Program& program,
                                      const std::map<int, solid::ToolBody>& bodies);

}  // namespace proveout::run
