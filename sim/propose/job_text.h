// The proposal as a job file: complete, each value with where it comes from and how sure it is.
#pragma once

#include <filesystem>
#include <string>

#include "sim/propose/proposal.h"

namespace proveout::propose {

// TOML; paths as seen from the folder of job_file. Values behind which a mark stands (parser/job/
// marks.h) are not known.
std::string job_text(const Proposal& proposal, const std::filesystem::path& job_file);

}  // namespace proveout::propose
