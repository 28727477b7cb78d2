#include <cstdio>

#include "report/cli/commands.h"
#include "report/cli/written_results.h"
#include "report/text/summary.h"
#include "report/text/terminal.h"

namespace proveout::cli {

namespace po = boost::program_options;

Status run_command(const Arguments& arguments) {
  po::options_description options;
  add_simulate_options(options);
  const auto values = parse(arguments, options, {"JOB.toml"},
                            "usage: proveout run JOB.toml [options]\n\n"
                            "Dry-runs every setup of the job in order and writes result.json,\n"
                            "moves.csv, report.html, junit.xml and findings.sarif.");
  if (!values) return ran;
  const SimulateOptions simulate = simulate_options(*values);
  const std::optional<run::JobResult> result = run_job(simulate, simulate.html);
  if (!result) return unusable_input;
  write_results(*result, simulate);
  if (!simulate.quiet && simulate.json != "-") {
    text::SummaryOptions summary;
    summary.colour = text::wants_colour(stdout);
    summary.output_folder = simulate.out.string();
    std::fputs(text::summary(*result, summary).c_str(), stdout);
  }
  return judged(*result, simulate.fail_on);
}

}  // namespace proveout::cli
