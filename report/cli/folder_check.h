// `proveout check FOLDER`: every job of a folder held against the baseline beside it, several at
// once, each in a process of its own so that one that fails takes no other with it; shards of the
// work and their merging.
#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "report/cli/status.h"

namespace proveout::cli {

struct Shard {  // part i of n, counted from 1
  int index = 1, count = 1;
};

struct FolderCheck {
  std::filesystem::path folder;
  std::filesystem::path out;  // a folder per job goes under it, and summary.json and junit.xml
  Shard shard;
  int at_once = 0;      // 0: as many as the machine has cores
  bool accept = false;  // write baselines
  bool resume = false;  // jobs that an earlier check finished are not run again
  bool quiet = false;
  std::vector<std::string> passed_on;  // options for each job's own check
};

// The job files under a folder, by path: *.toml that name setups, and NAME.toml where there is a
// NAME.baseline.json, whether it can be read or not. Folders ending in -out are left out.
std::vector<std::filesystem::path> jobs_under(const std::filesystem::path& folder);

// NAME.toml's baseline is NAME.baseline.json beside it.
std::filesystem::path baseline_of(const std::filesystem::path& job);

// Runs them, prints a line a job as it ends and a summary. Status: the worst of all jobs'. Throws
// UsageError where there is none.
Status check_folder(const FolderCheck& check);

// The summaries of all shards as one: every shard once, of the same list of jobs. nullopt with
// errors (summary-unreadable, shard-missing, shard-twice, shards-differ).
std::optional<nlohmann::ordered_json> merge_summaries(const std::vector<std::string>& paths,
                                                      Diagnostics& diagnostics);

// As text, 80 columns; and the status it stands for.
std::string summary_text(const nlohmann::ordered_json& summary);
Status summary_status(const nlohmann::ordered_json& summary);
// One test case a job.
std::string summary_junit(const nlohmann::ordered_json& summary);
// summary.json and junit.xml into folder. Throws files::WriteError.
void write_summary(const nlohmann::ordered_json& summary, const std::filesystem::path& folder);

}  // namespace proveout::cli
