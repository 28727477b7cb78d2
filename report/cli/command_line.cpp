#include "report/cli/command_line.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <functional>
#include <new>
#include <string>

#include "report/cli/commands.h"
#include "report/cli/describe.h"
#include "report/cli/interrupt.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/text/words.h"

namespace proveout::cli {
namespace {

constexpr std::array<Command, 16> all_commands = {{
    {"run", "JOB.toml", "dry-run the whole job, all setups in order", run_command},
    {"watch", "JOB.toml", "run again whenever a file of the job changes", watch_command},
    {"propose", "PROGRAM.nc...", "a job file from programs, mesh and blank", propose_command},
    {"shop", "", "one's own machines, tools and materials", shop_command},
    {"time", "PROGRAM.nc", "time and travel of one program, no stock", time_command},
    {"list", "PROGRAM.nc", "what a program means, one motion a line", list_command},
    {"differ", "FIRST.nc SECOND.nc", "whether two programs mean the same", differ_command},
    {"compare", "RESULT.json...", "results side by side", compare_command},
    {"check", "JOB.toml --baseline R.json", "hold a new result against a kept one", check_command},
    {"gather", "SUMMARY.json...", "shards of a folder's check as one", gather_command},
    {"reach", "JOB.toml", "what each setup and tool reaches of the part", reach_command},
    {"retime", "JOB.toml --material NAME", "the same paths in another material", retime_command},
    {"quote", "JOB.toml", "cost per part for batches", quote_command},
    {"calibrate", "RUNS.csv --machine M.toml", "machine figures from timed runs",
     calibrate_command},
    {"completion", "bash|zsh|fish", "a completion script for a shell", completion_command},
    {"manual", "", "the manual page, as roff", manual_command},
}};

std::string help() {
  std::string out =
      "proveout: dry run of NC programs before they cut\n\n"
      "usage: proveout COMMAND ...\n\nCommands\n";
  for (const Command& c : all_commands) {
    out += fmt::format("  {:<10} {:<30} {}\n", c.name, c.usage, c.summary);
  }
  out +=
      "\n  proveout COMMAND --help   the command's options\n"
      "  proveout --version\n\n"
      "Exit status: 0 ran, nothing at or above --fail-on; 1 ran, and something was;\n"
      "2 the input could not be used; 3 the machine failed (disk full, out of memory).\n\n"
      "A clean result is no promise: see the cautions each run prints.\n";
  return out;
}

std::string nearest(const std::string& word) {
  for (const Command& c : all_commands) {
    if (std::string(c.name).starts_with(word.substr(0, 2))) return c.name;
  }
  return {};
}

Status dispatch(const std::vector<std::string>& words) {
  if (words.empty()) {
    std::fputs(help().c_str(), stderr);
    return unusable_input;
  }
  const std::string& first = words.front();
  if (first == "--help" || first == "-h" || first == "help") {
    std::fputs(help().c_str(), stdout);
    return ran;
  }
  if (first == "--version") {
    std::fputs("proveout " PROVEOUT_VERSION "\n", stdout);
    return ran;
  }
  for (const Command& c : all_commands) {
    if (first == c.name) return c.call({{words.begin() + 1, words.end()}});
  }
  const std::string near = nearest(first);
  throw UsageError(fmt::format("there is no command '{}'{}", first,
                               near.empty() ? "" : "; did you mean '" + near + "'?"));
}

// Runs the command; what it throws becomes a message and a status.
int run_words(const std::vector<std::string>& words,
              const std::function<void(const std::string&)>& say) {
  try {
    return dispatch(words);
  } catch (const UsageError& e) {
    const bool known = !words.empty() && std::ranges::any_of(all_commands, [&](const Command& c) {
      return words.front() == c.name;
    });
    say(e.what());
    std::fputs(("try: proveout " + (known ? words.front() + " " : "") + "--help\n").c_str(),
               stderr);
    return unusable_input;
  } catch (const Interrupted& e) {
    say(e.what());
    return 130;  // the shell's custom for an interrupted command
  } catch (const files::WriteError& e) {
    say(e.what());
    return machine_failed;
  } catch (const std::bad_alloc&) {
    say("out of memory; a larger --voxel needs less");
    return machine_failed;
  } catch (const std::exception& e) {
    say(std::string("unexpected failure: ") + e.what());
    return machine_failed;
  }
}

}  // namespace

std::span<const Command> commands() { return all_commands; }

int run(int argument_count, char** arguments) {
  const std::vector<std::string> words(arguments + 1, arguments + argument_count);
  const auto say = [](const std::string& text) {
    std::fputs(("proveout: " + text::printable(text) + "\n").c_str(), stderr);
  };
  const int status = run_words(words, say);
  const std::string failure = output_failure();
  if (failure.empty() || (status != ran && status != found)) return status;
  say(failure);
  return machine_failed;
}

}  // namespace proveout::cli
