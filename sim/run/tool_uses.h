// A program's motions as stretches of one tool, as the stock is cut by them.
#pragma once

#include <map>
#include <vector>

#include "parser/nc/program.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::run {

// Stretches of motions made with one tool.
std::vector<stock::ToolUse> tool_uses(const nc::Program& program,
                                      const std::map<int, solid::ToolBody>& bodies);

}  // namespace proveout::run
