// No command writes over what it reads.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "parser/job/job.h"
#include "report/cli/options.h"

namespace proveout::cli {

// The files a job is read from: itself, machine and tool files, programs and meshes.
std::vector<std::filesystem::path> inputs_of(const job::Job& job);

// Throws UsageError if target is one of inputs, by whatever name; wanted_by: the option that names
// it.
void keep_inputs(const std::vector<std::filesystem::path>& inputs,
                 const std::filesystem::path& target, const std::string& wanted_by);

// The same for all a run writes: --json, the output folder and an accepted baseline.
void keep_inputs(const job::Job& job, const SimulateOptions& options);

// Names for the setups' rewritten programs: those of the posted ones, told apart by the setup's
// number where two setups' programs have one name.
std::vector<std::string> names_of_programs(const job::Job& job);

}  // namespace proveout::cli
