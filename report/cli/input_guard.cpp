#include "report/cli/input_guard.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/cli/status.h"
#include "report/files/output_names.h"

namespace proveout::cli {

namespace fs = std::filesystem;

std::vector<fs::path> inputs_of(const job::Job& job) {
  std::vector<fs::path> out{job.file, job.stock.mesh};
  if (job.part) out.push_back(job.part->mesh);
  for (const job::Setup& setup : job.setups) {
    out.push_back(setup.program);
    for (const job::Fixture& fixture : setup.fixtures) out.push_back(fixture.mesh);
  }
  out.insert(out.end(), job.named_files.begin(), job.named_files.end());
  std::erase_if(out, [](const fs::path& p) { return p.empty(); });
  return out;
}

void keep_inputs(const std::vector<fs::path>& inputs, const fs::path& target,
                 const std::string& wanted_by) {
  for (const fs::path& input : inputs) {
    std::error_code not_there;
    if (!fs::equivalent(input, target, not_there) || not_there) continue;
    throw UsageError(
        fmt::format("{} would write over {}, which this command reads: name another place",
                    wanted_by, target.string()));
  }
}

void keep_inputs(const job::Job& job, const SimulateOptions& options) {
  std::vector<fs::path> inputs = inputs_of(job);
  if (!options.accepted.empty()) keep_inputs(inputs, options.accepted, "--accept");
  // --accept may replace the baseline this run is held against; nothing else may.
  inputs.insert(inputs.end(), options.also_read.begin(), options.also_read.end());
  if (!options.json.empty() && options.json != "-") keep_inputs(inputs, options.json, "--json");
  for (const std::string& name : files::output_names(job.setups.size()))
    keep_inputs(inputs, options.out / name, "--out");
}

std::vector<std::string> names_of_programs(const job::Job& job) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < job.setups.size(); ++i) {
    const fs::path& program = job.setups[i].program;
    const auto same = std::count_if(job.setups.begin(), job.setups.end(), [&](const job::Setup& s) {
      return s.program.filename() == program.filename();
    });
    out.push_back(same == 1 ? program.filename().string()
                            : fmt::format("{}-setup-{}{}", program.stem().string(), i + 1,
                                          program.extension().string()));
  }
  return out;
}

}  // namespace proveout::cli
