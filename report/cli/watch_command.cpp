// watch: a job run again whenever one of its files changes.
#include <fmt/format.h>

#include <chrono>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <set>
#include <thread>

#include "parser/job/read_job.h"
#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/interrupt.h"
#include "report/cli/output_place.h"
#include "report/cli/standard_output.h"
#include "report/cli/watched_files.h"
#include "report/cli/written_results.h"
#include "report/compare/since_last.h"
#include "report/files/atomic_file.h"
#include "report/files/output_names.h"
#include "report/json/result_json.h"
#include "report/page/data/page_html.h"
#include "report/text/first_screen.h"
#include "report/text/terminal.h"
#include "report/text/words.h"

namespace proveout::cli {

namespace po = boost::program_options;
namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

namespace {

void pause(std::chrono::milliseconds length) {
  std::this_thread::sleep_for(length);
  stop_if_interrupted();
}

// No page of an earlier run has it.
std::string new_version() {
  return fmt::format("{}", std::chrono::system_clock::now().time_since_epoch().count());
}

class Watch {
 public:
  explicit Watch(SimulateOptions options) : options_(std::move(options)) {}

  // Until it is interrupted: throws Interrupted, files::WriteError.
  void go() {
    for (std::vector<fs::path> changed;;) {
      watched_.take(files_of_job());
      run(changed);
      changed = watched_.wait(pause);
    }
  }

  // Pages that look for newer ones leave off.
  void end() const noexcept {
    std::error_code ignored;
    fs::remove(options_.out / files::page_version_name, ignored);
  }

 private:
  // All that the job names; while it cannot be read, what it named before.
  std::set<fs::path> files_of_job() {
    Diagnostics unsaid;
    InputFiles files;
    const auto job = job::read_job(options_.job, files, unsaid);
    std::set<fs::path> out{options_.job};
    for (const InputFile& f : files.all()) out.insert(f.path);
    if (job) {
      for (const fs::path& p : inputs_of(*job)) out.insert(p);
      named_ = out;
    } else {
      out.insert(named_.begin(), named_.end());
    }
    return out;
  }

  void run(const std::vector<fs::path>& changed) {
    ++number_;
    const auto begun = Clock::now();
    std::string what = fmt::format("run {}", number_);
    for (const fs::path& p : changed) what += fmt::format(", {} changed", p.filename().string());
    std::optional<run::JobResult> result;
    options_.watched = new_version();
    try {
      result = run_job(options_, options_.needs_stock_after_setups());
    } catch (const UsageError& e) {  // a file of the job and one to be written are the same
      if (number_ == 1) throw;
      std::fputs(("proveout: " + text::printable(e.what()) + "\n").c_str(), stderr);
    }
    if (!result) {
      say(what + ": no result, the input cannot be used; watching on");
      return;
    }
    write_results(*result, options_);
    // Behind the page: who looks here finds the page it speaks of.
    if (options_.html && page::page_built_in())
      files::write_whole(options_.out / files::page_version_name,
                         "proveoutPage(\"" + options_.watched + "\");\n");
    nlohmann::ordered_json now = json::result_json(*result);
    if (before_.is_null()) {
      if (!options_.quiet)
        std::fputs(text::first_screen(
                       *result, {text::wants_colour(stdout), options_.out.string(), options_.html})
                       .c_str(),
                   stdout);
      say(fmt::format("watching {} files; Ctrl-C ends", named_.size()));
    } else {
      const int cut = now["run"]["stretches_cut"], reused = now["run"]["stretches_reused"];
      say(fmt::format("{}, {:.1f} s, {} of {} stretches cut: {}; now {}", what,
                      std::chrono::duration<double>(Clock::now() - begun).count(), cut,
                      cut + reused, compare::since_last(before_, now),
                      compare::counts_in_words(now)));
    }
    before_ = std::move(now);
  }

  static void say(const std::string& line) {
    tell("{}\n", text::printable(line));
    std::fflush(stdout);
  }

  SimulateOptions options_;
  WatchedFiles watched_;
  std::set<fs::path> named_;
  nlohmann::ordered_json before_;  // the last result; null: none yet
  int number_ = 0;
};

}  // namespace

Status watch_command(const Arguments& arguments) {
  po::options_description options;
  add_simulate_options(options);
  const auto values =
      parse(arguments, options, {"JOB.toml"},
            "usage: proveout watch JOB.toml [options]\n\n"
            "Dry-runs the job, and again whenever its file, a program, a mesh or another\n"
            "file it names changes, from the first stretch that did; one line says what got\n"
            "better and worse. The page in the browser loads itself anew. Ctrl-C ends.");
  if (!values) return ran;
  SimulateOptions simulate = simulate_options(*values);
  if (!simulate.json.empty())
    throw UsageError("watch writes result.json into its folder: no --json");
  std::error_code ignored;
  if (!fs::is_regular_file(simulate.job, ignored))
    throw UsageError("there is no file " + simulate.job.string() + " to watch");
  if (simulate.stages.empty()) {
    simulate.stages = simulate.out / "stages";
    need_folder(simulate.stages, "--out");
  }
  simulate.notes = false;
  end_well_when_interrupted();
  Watch watch(std::move(simulate));
  try {
    watch.go();
  } catch (const Interrupted&) {
    watch.end();
  }
  return ran;
}

}  // namespace proveout::cli
