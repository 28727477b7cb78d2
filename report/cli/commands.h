// The sub-commands. Each takes the words behind its name and returns an exit status.
#pragma once

#include <span>

#include "report/cli/options.h"

namespace proveout::cli {

struct Command {
  const char* name;
  const char* usage;    // words behind the name
  const char* summary;  // one line
  Status (*call)(const Arguments& arguments);
};

std::span<const Command> commands();

Status run_command(const Arguments& arguments);
Status watch_command(const Arguments& arguments);
Status propose_command(const Arguments& arguments);
Status shop_command(const Arguments& arguments);
Status time_command(const Arguments& arguments);
Status list_command(const Arguments& arguments);
Status differ_command(const Arguments& arguments);
Status compare_command(const Arguments& arguments);
Status gather_command(const Arguments& arguments);
Status check_command(const Arguments& arguments);
Status retime_command(const Arguments& arguments);
Status reach_command(const Arguments& arguments);
Status quote_command(const Arguments& arguments);
Status calibrate_command(const Arguments& arguments);

}  // namespace proveout::cli
