// Options the commands share, and reading them with Boost.Program_options.
#pragma once

#include <boost/program_options.hpp>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "report/cli/status.h"
#include "sim/pipeline/dry_run.h"

namespace proveout::cli {

// What a command is called with.
struct Arguments {
  std::vector<std::string> words;  // behind its name
  // Where parse() puts the command's table of options instead of reading words; null: nowhere.
  std::optional<boost::program_options::options_description>* table = nullptr;
};

// What readers tell without --messages.
inline constexpr std::size_t default_messages = 200;

// Of every command that simulates.
struct SimulateOptions {
  std::filesystem::path job;
  std::filesystem::path out;  // default: JOB-out beside the job file
  double voxel = 0;           // mm; 0: as the job says
  int threads = -1;           // -1: as the job says; 0: all
  std::string material;
  std::size_t messages = default_messages;            // of the readers, told on standard error
  std::optional<Severity> fail_on = Severity::error;  // nullopt: none
  bool quiet = false;
  bool notes = true;  // of the readers, on standard error; they are findings besides
  bool html = true;
  bool pictures = false;
  bool meshes = false;
  bool stock_files = false;
  bool paths = false;
  std::string watched;  // names this page among those of `watch`; empty: no page looks for newer
  std::filesystem::path stages;                  // folder of kept stages; empty: none
  std::vector<double> sections;                  // mm, heights in work coordinates; `run` alone
  std::string json;                              // "-": standard output
  std::vector<std::filesystem::path> also_read;  // kept results: never written over
  std::filesystem::path accepted;                // `check --accept`: the baseline to write

  bool needs_stock_after_setups() const {
    return html || pictures || meshes || stock_files || !sections.empty();
  }
};

// --messages N: how many mistakes, warnings and notes of its input a command tells, 1 to 1,000,000;
// the gravest come first, and the last line says how many more there are. Throws UsageError.
void add_messages(boost::program_options::options_description& options);
std::size_t messages(const boost::program_options::variables_map& values);

// Adds the shared options to a command's own.
void add_simulate_options(boost::program_options::options_description& options);
// Parses; prints help and returns nullopt if asked for it, or for the table. positional: names of
// positional options, "..." behind the last one that takes any number. Throws UsageError.
std::optional<boost::program_options::variables_map> parse(
    const Arguments& arguments, const boost::program_options::options_description& options,
    const std::vector<std::string>& positional, const std::string& usage);
// The options a command parses with; nullopt where it parses none.
std::optional<boost::program_options::options_description> options_of(
    Status (*command)(const Arguments&));
SimulateOptions simulate_options(const boost::program_options::variables_map& values);

// Prints diagnostics to standard error, errors first and at most so many, with a closing count of
// those that are left out. quiet: errors alone; notes: notes as well.
void print(const Diagnostics& diagnostics, bool quiet = false, bool notes = true,
           std::size_t most = SIZE_MAX);

// Of these, what the dry run itself takes.
pipeline::RunOptions run_options_of(const SimulateOptions& options, bool keep_stock_after_setups);

// Reads the job and runs it with a progress line; prints what is wrong. nullopt: status 2.
std::optional<run::JobResult> run_job(const SimulateOptions& options,
                                      bool keep_stock_after_setups = false);
// The same, with its phases timed by the clock.
std::optional<run::JobResult> run_job(const SimulateOptions& options, bool keep_stock_after_setups,
                                      pipeline::PhaseClock& clock);

// Status for a result under --fail-on.
Status judged(const run::JobResult& result, const std::optional<Severity>& fail_on);

// Writes text to a file, or to standard output for "-".
void write_text(const std::string& target, const std::string& text);

}  // namespace proveout::cli
