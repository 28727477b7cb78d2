#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/output_place.h"
#include "report/cli/page_beside.h"
#include "report/cli/propose_options.h"
#include "report/cli/standard_output.h"
#include "report/cli/written_results.h"
#include "report/compare/compare.h"
#include "report/files/atomic_file.h"
#include "report/json/layout_json.h"
#include "report/text/first_screen.h"
#include "report/text/summary.h"
#include "report/text/terminal.h"
#include "report/text/words.h"
#include "sim/pipeline/phases.h"
#include "sim/propose/job_text.h"
#include "sim/run/inputs.h"

namespace proveout::cli {

namespace po = boost::program_options;

namespace {

// A page of the same part from another blank is shown beside this one's all the same: it is said.
void tell_other_blanks(const OtherResults& others, const run::JobResult& result, bool quiet) {
  const Vec3 here = result.inputs != nullptr ? result.inputs->blank.max() : Vec3::Zero();
  Diagnostics diagnostics;
  for (const page::OtherPage& other : others.pages) {
    if (!other.data) continue;
    const auto size = other.data->about.value("stock_size", std::vector<double>());
    if (size.size() != 3 || (Vec3(size[0], size[1], size[2]) - here).norm() < 0.01) continue;
    diagnostics.warning(
        "result-of-other-blank", {},
        fmt::format("'{}' was cut from a blank of {:g} x {:g} x {:g} mm, this job's is {:g} x {:g} "
                    "x {:g}: places and volumes do not go together",
                    other.name, size[0], size[1], size[2], here.x(), here.y(), here.z()),
        "hold results of one blank against each other");
  }
  print(diagnostics, quiet);
}

// nullopt, after saying why, where one of them cannot be read.
std::optional<OtherResults> read_others(const po::variables_map& values, bool quiet) {
  OtherResults others;
  if (!values.count("against")) return others;
  Diagnostics diagnostics;
  if (!page::page_built_in() || values["no-html"].as<bool>())
    diagnostics.warning("against-without-page", {},
                        "--against shows another result on the page, and none is written: nothing "
                        "comes of it",
                        "leave out --no-html; `proveout compare` prints results side by side");
  for (const std::string& path : values["against"].as<std::vector<std::string>>()) {
    auto read = compare::read_result(path, diagnostics);
    if (!read) continue;
    const auto job = read->value("job", nlohmann::ordered_json::object());
    const auto name = job.is_object() ? job.find("name") : job.end();
    const bool named = job.is_object() && name != job.end() && name->is_string();
    others.results.push_back({named ? name->get<std::string>() : path, std::move(*read), nullptr});
    if (page::page_built_in() && !values["no-html"].as<bool>())
      others.pages.push_back(page_beside(path, others.results.back(), diagnostics));
  }
  print(diagnostics, quiet);
  if (diagnostics.has_errors()) return std::nullopt;
  return others;
}

// Says what the run would ask of the computer, and runs nothing. layout: where blank, part and
// paths lie is written there; empty: nowhere.
Status tell_forecast(const SimulateOptions& options, const std::string& layout) {
  Diagnostics diagnostics;
  const std::optional<job::Job> job = job::read_job(options.job, diagnostics);
  std::optional<pipeline::JobPreview> preview;
  if (job) {
    if (!layout.empty() && layout != "-") keep_inputs(inputs_of(*job), layout, "--layout");
    preview = pipeline::preview_job(
        *job, run_options_of(options, options.needs_stock_after_setups()), diagnostics);
  }
  print(diagnostics, true);
  if (!preview) return unusable_input;
  const std::string drawn = layout.empty() ? "" : json::layout_json(*job, *preview).dump() + "\n";
  if (layout == "-") {
    std::fputs(drawn.c_str(), stdout);
    return ran;
  }
  if (!layout.empty()) files::write_whole(layout, drawn);
  const pipeline::JobForecast& f = preview->forecast;
  std::fputs(
      fmt::format("voxel {:g} mm, walls and floors told to about {:.2g} mm; {} motions: {}\n",
                  f.voxel, 0.05 * f.voxel, f.motions, text::needs_in_words(f.needs))
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

// Programs instead of a job file: several names, or what only a proposal takes.
bool names_programs(const po::variables_map& values, const std::vector<std::string>& named) {
  const auto is_job = [](const std::string& name) {
    return std::filesystem::path(name).extension() == ".toml";
  };
  const bool any_job = std::any_of(named.begin(), named.end(), is_job);
  if (any_job && named.size() > 1) throw UsageError("run takes one job file, or programs");
  if (any_job && has_propose_options(values))
    throw UsageError(
        "--part, --blank, --tools, --machine and --shop go with programs; a job file says so");
  return !any_job && (named.size() > 1 || has_propose_options(values));
}

// Proposes a job from the programs into the output folder and names it in options. False: status
// 2, after saying why.
bool proposed(const po::variables_map& values, const std::vector<std::string>& programs,
              SimulateOptions& options) {
  const propose::Request request = propose_request(values, programs);
  if (!values.count("out"))
    options.out = options.job.parent_path() / (options.job.stem().string() + "-out");
  need_folder(options.out, "--out");
  const std::filesystem::path file = options.out / "proposed.toml";
  for (const std::string& program : programs) keep_inputs({program}, file, "--out");
  const bool quiet = options.quiet || options.json == "-";
  const auto proposal = propose_job(request, false, quiet);
  if (!proposal) return false;
  files::make_folder(options.out);
  files::write_whole(file,
                     "# Written anew by each run of these programs: copy it to go on from.\n" +
                         propose::job_text(*proposal, file));
  options.job = file;
  options.material.clear();  // in the proposal already
  if (!quiet) tell("proposed: {}\n", text::printable(file.string()));
  if (propose::can_run(*proposal)) return true;
  std::fputs(
      text::wrapped("Some of it has to be known first; give --tools, --blank or the comments "
                    "what is missing, or fill in a copy of " +
                        text::printable(file.string()) + ":",
                    80, 0)
          .c_str(),
      stderr);
  std::fputs(open_values(*proposal).c_str(), stderr);
  return false;
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
  options.add_options()("layout", po::value<std::string>()->value_name("FILE"),
                        "beside a forecast: write where blank, part, zero, fixtures and paths of "
                        "each setup lie, as JSON; - is standard output");
  options.add_options()("full", po::bool_switch(),
                        "print the whole report, not its first screen alone");
  options.add_options()("phases", po::bool_switch(),
                        "say on standard error where the run's time went, phase by phase");
  options.add_options()(
      "section", po::value<std::vector<double>>()->value_name("Z"),
      "write the stock's section at this height (mm, work coordinates) after each setup as "
      "setup-N-section-zZ.svg, true to scale; may be repeated");
  add_propose_options(options);
  const auto values =
      parse(arguments, options, {"JOB.toml", "..."},
            "usage: proveout run JOB.toml [options]\n"
            "       proveout run SIDE-A.nc [SIDE-B.nc ..] --blank SIZE [options]\n\n"
            "Dry-runs every setup of the job in order and writes result.json,\n"
            "moves.csv, report.html, junit.xml and findings.sarif. Of programs it\n"
            "first proposes a job into the output folder, as `propose` does.");
  if (!values) return ran;
  SimulateOptions simulate = simulate_options(*values);
  const std::optional<OtherResults> others = read_others(*values, simulate.quiet);
  if (!others) return unusable_input;
  const auto named = (*values)["JOB.toml"].as<std::vector<std::string>>();
  if (names_programs(*values, named) && !proposed(*values, named, simulate)) return unusable_input;
  if (values->count("against")) {
    for (const std::string& path : (*values)["against"].as<std::vector<std::string>>())
      simulate.also_read.emplace_back(path);
  }
  if (values->count("section")) simulate.sections = section_heights(*values);
  const std::string layout = output_file(*values, "layout");
  const bool forecast = (*values)["forecast"].as<bool>();
  if (!layout.empty() && !forecast) throw UsageError("--layout goes with --forecast");
  if (forecast) return tell_forecast(simulate, layout);
  const bool full = (*values)["full"].as<bool>();
  simulate.notes = full;
  pipeline::PhaseClock clock;
  const std::optional<run::JobResult> result =
      run_job(simulate, simulate.needs_stock_after_setups(), clock);
  if (!result) return unusable_input;
  tell_other_blanks(*others, *result, simulate.quiet);
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
