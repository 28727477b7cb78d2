// What of a job file, a file of tools or one of a machine a shop can keep, as the files it will be.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/job/shop.h"

namespace proveout::job {

struct ToKeep {
  Kept kind = Kept::machine;
  std::string name, text;  // of its file; text is TOML
};

// The machine, each tool and each material of a job; the tools of a file of [[tools]]; a machine
// file's machine. What a job takes from the shop itself is left out. Names are those they have in
// reports, with what no file's name can have replaced by '-'; without one, a machine has the file's
// and a tool that of its number. Keys and values are those of the file, lengths in its units.
// nullopt with errors: those of read_job, read_tools and read_machine; shop-same-name where two of
// the file would have one name.
std::optional<std::vector<ToKeep>> to_keep(const std::filesystem::path& file,
                                           Diagnostics& diagnostics);

}  // namespace proveout::job
