// Taking up a folder's check that was ended before its end: which jobs need not be run again.
#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace proveout::cli {

// The file in a job's output folder that says how its check ended and of what; the last one that is
// written.
inline constexpr const char* finished_name = "finished.json";

// What a job's check depends on beside the job's own files.
struct FinishedUnder {
  std::string program;               // SHA-256 of this program
  std::vector<std::string> options;  // as each job's own check is given them
  std::filesystem::path baseline;    // its bytes count, or that it is not there
};

// SHA-256 of the program that runs; empty where it cannot be read.
std::string digest_of_program();

// Says beside the job's files how it ended. entry: of the summary. Throws files::WriteError.
void write_finished(const std::filesystem::path& out, const FinishedUnder& under,
                    const nlohmann::ordered_json& entry);

// The summary's entry of a job that ended with status 0 or 1, where program, options, baseline and
// every file that its result.json lists are byte for byte as they were. nullopt: it is to be run.
std::optional<nlohmann::ordered_json> finished_before(const std::filesystem::path& job,
                                                      const std::filesystem::path& out,
                                                      const FinishedUnder& under);

}  // namespace proveout::cli
