#include <cstdio>
#include <nlohmann/json.hpp>

#include "report/cli/commands.h"
#include "report/files/atomic_file.h"
#include "report/files/junit_xml.h"
#include "report/files/moves_csv.h"
#include "report/files/sarif.h"
#include "report/json/result_json.h"
#include "report/keyframes/page_of_result.h"
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
  const bool with_page = simulate.html && page::page_built_in();
  const std::optional<run::JobResult> result = run_job(simulate, with_page);
  if (!result) return unusable_input;

  const std::string json = json::result_json(*result).dump(
                               1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) +
                           "\n";
  files::make_folder(simulate.out);
  files::write_whole(simulate.out / "moves.csv",
                     [&](std::ostream& s) { files::write_moves_csv(*result, s); });
  files::write_whole(simulate.out / "junit.xml",
                     files::junit_xml(*result, simulate.fail_on.value_or(Severity::error)));
  files::write_whole(simulate.out / "findings.sarif", files::sarif(*result));
  files::write_whole(simulate.out / "result.json", json);
  if (with_page) page::write_page(page::page_of_result(*result), simulate.out / "report.html");
  if (!simulate.json.empty()) write_text(simulate.json, json);
  if (!simulate.quiet && simulate.json != "-") {
    text::SummaryOptions summary;
    summary.colour = text::wants_colour(stdout);
    summary.output_folder = simulate.out.string();
    std::fputs(text::summary(*result, summary).c_str(), stdout);
  }
  return judged(*result, simulate.fail_on);
}

}  // namespace proveout::cli
