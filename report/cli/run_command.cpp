#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "report/cli/commands.h"
#include "report/cli/written_results.h"
#include "report/compare/compare.h"
#include "report/text/first_screen.h"
#include "report/text/summary.h"
#include "report/text/terminal.h"
#include "report/text/words.h"
#include "sim/pipeline/phases.h"

namespace proveout::cli {

namespace po = boost::program_options;

namespace {

// nullopt, after saying why, where one of them cannot be read.
std::optional<OtherResults> read_others(const po::variables_map& values) {
  OtherResults others;
  if (!values.count("against")) return others;
  Diagnostics diagnostics;
  for (const std::string& path : values["against"].as<std::vector<std::string>>()) {
    auto read = compare::read_result(path, diagnostics);
    if (!read) continue;
    const auto job = read->value("job", nlohmann::ordered_json::object());
    const auto name = job.is_object() ? job.find("name") : job.end();
    const bool named = job.is_object() && name != job.end() && name->is_string();
    others.push_back({named ? name->get<std::string>() : path, std::move(*read), nullptr});
  }
  print(diagnostics);
  if (diagnostics.has_errors()) return std::nullopt;
  return others;
}

// Says what the run would ask of the computer, and runs nothing.
Status tell_forecast(const SimulateOptions& options) {
  Diagnostics diagnostics;
  const std::optional<job::Job> job = job::read_job(options.job, diagnostics);
  std::optional<pipeline::JobForecast> f;
  if (job)
    f = pipeline::forecast_job(*job, run_options_of(options, options.needs_stock_after_setups()),
                               diagnostics);
  print(diagnostics, true);
  if (!f) return unusable_input;
  std::fputs(
      fmt::format("voxel {:g} mm, walls and floors told to about {:.2g} mm; {} motions: {}\n",
                  f->voxel, 0.05 * f->voxel, f->motions, text::needs_in_words(f->needs))
          .c_str(),
      stdout);
  return ran;
}

std::vector<double> section_heights(const po::variables_map& values) {
  auto heights = values["section"].as<std::vector<double>>();
  for (const double z : heights) {
    if (!(std::abs(z) <= 1e5)) throw UsageError("--section takes a height in mm");
  }
  return heights;
}

// Where the run's time went; phases that took no thousandth of a second are left out.
std::string phases_in_words(const std::vector<pipeline::Phase>& phases) {
  std::string out = fmt::format("{:<28}{:>10}{:>14}\n", "phase", "wall, s", "processor, s");
  pipeline::Phase all{"all of these"};
  const auto line = [&](const pipeline::Phase& p) {
    out += fmt::format("{:<28}{:>10.3f}{:>14.3f}\n", p.name, p.wall_s, p.processor_s);
  };
  for (const pipeline::Phase& p : phases) {
    all.wall_s += p.wall_s;
    all.processor_s += p.processor_s;
    if (std::max(p.wall_s, p.processor_s) >= 1e-3) line(p);
  }
  line(all);
  return out;
}

}  // namespace

Status run_command(const Arguments& arguments) {
  po::options_description options;
  add_simulate_options(options);
  options.add_options()(
      "against", po::value<std::vector<std::string>>()->value_name("RESULT.json"),
      "a result to show beside this one on the page, e.g. the proof in MDF; may be repeated");
  options.add_options()("forecast", po::bool_switch(),
                        "say what time and memory the run would take, and end");
  options.add_options()("full", po::bool_switch(),
                        "print the whole report, not its first screen alone");
  options.add_options()("phases", po::bool_switch(),
                        "say on standard error where the run's time went, phase by phase");
  options.add_options()(
      "section", po::value<std::vector<double>>()->value_name("Z"),
      "write the stock's section at this height (mm, work coordinates) after each setup as "
      "setup-N-section-zZ.svg, true to scale; may be repeated");
  const auto values = parse(arguments, options, {"JOB.toml"},
                            "usage: proveout run JOB.toml [options]\n\n"
                            "Dry-runs every setup of the job in order and writes result.json,\n"
                            "moves.csv, report.html, junit.xml and findings.sarif.");
  if (!values) return ran;
  const std::optional<OtherResults> others = read_others(*values);
  if (!others) return unusable_input;
  SimulateOptions simulate = simulate_options(*values);
  if (values->count("against")) {
    for (const std::string& path : (*values)["against"].as<std::vector<std::string>>())
      simulate.also_read.emplace_back(path);
  }
  if (values->count("section")) simulate.sections = section_heights(*values);
  if ((*values)["forecast"].as<bool>()) return tell_forecast(simulate);
  const bool full = (*values)["full"].as<bool>();
  simulate.notes = full;
  pipeline::PhaseClock clock;
  const std::optional<run::JobResult> result =
      run_job(simulate, simulate.needs_stock_after_setups(), clock);
  if (!result) return unusable_input;
  clock.time("writing the results", [&] { write_results(*result, simulate, *others); });
  if (!simulate.quiet && simulate.json != "-") {
    const bool colour = text::wants_colour(stdout);
    const std::string folder = simulate.out.string();
    std::fputs((full ? text::summary(*result, {.colour = colour, .output_folder = folder})
                     : text::first_screen(*result, {colour, folder, simulate.html}))
                   .c_str(),
               stdout);
  }
  if ((*values)["phases"].as<bool>()) std::fputs(phases_in_words(clock.phases()).c_str(), stderr);
  return judged(*result, simulate.fail_on);
}

}  // namespace proveout::cli
