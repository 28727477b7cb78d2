#include "report/cli/input_guard.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iterator>

#include "parser/job/toml.h"
#include "report/cli/status.h"

namespace proveout::cli {

namespace fs = std::filesystem;

namespace {

// The machine and tool files a job file names: the job itself keeps only what stands in them.
void add_named_files(const fs::path& job_file, std::vector<fs::path>& out) {
  std::ifstream stream(job_file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(stream), std::istreambuf_iterator<char>()};
  const toml::parse_result parsed = toml::parse(text, job_file.string());
  if (!parsed) return;
  for (const char* key : {"machine", "tools"}) {
    if (const auto name = parsed.table()[key].value<std::string>(); name && !name->empty())
      out.push_back(job_file.parent_path() / *name);
  }
}

}  // namespace

std::vector<fs::path> inputs_of(const job::Job& job) {
  std::vector<fs::path> out{job.file, job.stock.mesh};
  if (job.part) out.push_back(job.part->mesh);
  for (const job::Setup& setup : job.setups) {
    out.push_back(setup.program);
    for (const job::Fixture& fixture : setup.fixtures) out.push_back(fixture.mesh);
  }
  std::erase_if(out, [](const fs::path& p) { return p.empty(); });
  add_named_files(job.file, out);
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
  if (!options.accepted.empty()) keep_inputs(inputs_of(job), options.accepted, "--accept");
  std::vector<fs::path> inputs = inputs_of(job);
  inputs.insert(inputs.end(), options.also_read.begin(), options.also_read.end());
  if (!options.json.empty() && options.json != "-") keep_inputs(inputs, options.json, "--json");
  for (const char* name :
       {"result.json", "moves.csv", "junit.xml", "findings.sarif", "report.html", "left.vdb"}) {
    keep_inputs(inputs, options.out / name, "--out");
  }
  for (std::size_t s = 0; s < job.setups.size(); ++s) {
    for (const char* kind : {".stl", ".ply", ".3mf", ".vdb"}) {
      keep_inputs(inputs, options.out / fmt::format("setup-{}{}", s + 1, kind), "--out");
    }
  }
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
