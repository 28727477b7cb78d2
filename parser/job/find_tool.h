// The tool of a number.
#pragma once

#include <vector>

#include "parser/job/job.h"

namespace proveout::job {

// The first of the tools that bears that number; nullptr: none does.
inline const Tool* find_tool(const std::vector<Tool>& tools, int number) {
  for (const Tool& tool : tools) {
    if (tool.number == number) return &tool;
  }
  return nullptr;
}

}  // namespace proveout::job
