// What the keys of a tool say together, and what stands in for those that are left out.
#pragma once

#include <set>
#include <string>

#include "parser/job/job.h"
#include "parser/job/table_reader.h"

namespace proveout::job {

struct ToolKeys {
  std::set<std::string> keys;  // said elsewhere than in the table: in the file of a kept tool
  bool needs_number = true;    // a kept tool may have none
};

// Stands in for diameter (of a form), stick-out and flute length where they are 0. says_stickout:
// whether the stick-out was said, and not taken from elsewhere.
void complete(Tool& tool, bool says_stickout);

// Errors and warnings at the table for keys that are missing, contradict each other, belong to
// another shape, or are likelier in the other unit. tool: completed.
void check_tool(TableReader& table, const Tool& tool, const ToolKeys& also = {});

}  // namespace proveout::job
