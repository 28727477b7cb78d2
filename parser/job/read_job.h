// Reading a job so that what it was read from is known afterwards.
#pragma once

#include <filesystem>
#include <optional>

#include "parser/base/diagnostic.h"
#include "parser/base/input_files.h"
#include "parser/job/job.h"

namespace proveout::job {

// As read_job of job.h; files then lists the job file and the machine and tool files it names, with
// their digests.
std::optional<Job> read_job(const std::filesystem::path& path, InputFiles& files,
                            Diagnostics& diagnostics);

// The [[tools]] of a TOML file that holds nothing else, or of a whole job file. nullopt with errors
// in diagnostics.
std::optional<std::vector<Tool>> read_tools(const std::filesystem::path& path,
                                            Diagnostics& diagnostics);

}  // namespace proveout::job
