#include "report/cli/options.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <iostream>
#include <sstream>

#include "parser/base/text_file.h"
#include "parser/job/read_job.h"
#include "report/cli/input_guard.h"
#include "report/cli/interrupt.h"
#include "report/cli/output_place.h"
#include "report/cli/process.h"
#include "report/cli/progress_line.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/text/terminal.h"
#include "report/text/words.h"
#include "sim/after/time_use.h"
#include "sim/pipeline/phases.h"

namespace proveout::cli {

namespace po = boost::program_options;

void add_messages(po::options_description& options) {
  options.add_options()(
      "messages",
      po::value<std::uint32_t>()->value_name("N")->default_value(std::uint32_t{default_messages}),
      "tell at most N mistakes, warnings and notes of what is read");
}

std::size_t messages(const po::variables_map& values) {
  const auto most = values["messages"].as<std::uint32_t>();
  if (most < 1 || most > 1'000'000) throw UsageError("--messages is a number from 1 to 1000000");
  return most;
}

void add_simulate_options(po::options_description& options) {
  auto add = options.add_options();
  add("out,o", po::value<std::string>()->value_name("DIR"),
      "output folder (default: JOB-out beside the job file)");
  add("voxel", po::value<double>()->value_name("MM"), "edge of a voxel (default: as the job says)");
  add("threads", po::value<int>()->value_name("N"), "threads, 0 = all cores (default: 0)");
  add("material", po::value<std::string>()->value_name("NAME"),
      "replaces the stock material of the job");
  add("fail-on", po::value<std::string>()->default_value("error")->value_name("LEVEL"),
      "none | note | warning | error: exit with 1 from this level of finding on");
  add("quiet", po::bool_switch(), "nothing on the terminal but errors");
  add("no-html", po::bool_switch(), "do not write report.html");
  add("pictures", po::bool_switch(),
      "write setup-N.png, setup-N-section.png, deviation.png and finding-N.png");
  add("meshes", po::bool_switch(),
      "write the stock after each setup as setup-N.stl, setup-N.ply and setup-N.3mf");
  add("paths", po::bool_switch(), "write the toolpath of each setup as setup-N-path.vtp");
  add("stock-files", po::bool_switch(),
      "write the stock after each setup as setup-N.vdb, and the finished piece as left.vdb");
  add("stages", po::value<std::string>()->value_name("DIR"),
      "keep the stock after each tool in DIR; a later run goes on from the last that still holds");
  add("json", po::value<std::string>()->value_name("FILE"),
      "write the result there too; - is standard output, with nothing else on it");
  add_messages(options);
}

std::optional<po::options_description> options_of(Status (*command)(const Arguments&)) {
  std::optional<po::options_description> table;
  command({{}, &table});
  return table;
}

std::optional<po::variables_map> parse(const Arguments& arguments,
                                       const po::options_description& options,
                                       const std::vector<std::string>& positional,
                                       const std::string& usage) {
  po::options_description all("Options", text::terminal_width(stdout));
  for (const auto& option : options.options()) all.add(option);
  all.add_options()("help,h", po::bool_switch(), "show this and end");
  if (arguments.table != nullptr) {
    arguments.table->emplace(all);
    return std::nullopt;
  }
  po::options_description hidden;
  po::positional_options_description places;
  bool many = false;
  for (const std::string& name : positional) {
    if (name == "...") {
      many = true;
      continue;
    }
    hidden.add_options()(name.c_str(), po::value<std::vector<std::string>>()->composing());
  }
  for (std::size_t i = 0; i < positional.size(); ++i) {
    if (positional[i] == "...") continue;
    const bool last = i + (many ? 2 : 1) == positional.size();
    places.add(positional[i].c_str(), last && many ? -1 : 1);
  }
  po::options_description known;
  known.add(all).add(hidden);
  po::variables_map values;
  try {
    // No guessing of shortened options: a script must keep meaning the same when options are added.
    const int style =
        po::command_line_style::default_style & ~po::command_line_style::allow_guessing;
    po::store(po::command_line_parser(arguments.words)
                  .options(known)
                  .positional(places)
                  .style(style)
                  .run(),
              values);
    po::notify(values);
  } catch (const po::error& e) {
    throw UsageError(e.what());
  }
  if (values["help"].as<bool>()) {
    std::ostringstream text;
    text << usage << "\n\n" << all;
    std::cout << text.str();
    return std::nullopt;
  }
  for (const std::string& name : positional) {
    if (name != "..." && values.count(name) == 0) {
      throw UsageError(fmt::format("{} is missing", name));
    }
  }
  return values;
}

namespace {

std::optional<Severity> level_from(const std::string& word) {
  if (word == "none") return std::nullopt;
  for (Severity level : {Severity::note, Severity::warning, Severity::error}) {
    if (word == name(level)) return level;
  }
  throw UsageError(fmt::format("--fail-on takes none, note, warning or error, not '{}'", word));
}

}  // namespace

SimulateOptions simulate_options(const po::variables_map& values) {
  SimulateOptions out;
  out.job = values["JOB.toml"].as<std::vector<std::string>>().front();
  if (values.count("out")) {
    out.out = values["out"].as<std::string>();
    if (out.out.empty()) throw UsageError("--out names no folder");
  } else {
    out.out = out.job.parent_path() / (out.job.stem().string() + "-out");
  }
  if (values.count("voxel")) {
    out.voxel = values["voxel"].as<double>();
    if (!(out.voxel >= 1e-3 && out.voxel < 1e6))
      throw UsageError("--voxel takes a length in mm, 0.001 at least");
  }
  if (values.count("threads")) {
    out.threads = values["threads"].as<int>();
    if (out.threads < 0 || out.threads > 4096) {
      throw UsageError("--threads takes a number from 0 to 4096");
    }
  }
  if (values.count("material")) out.material = values["material"].as<std::string>();
  out.fail_on = level_from(values["fail-on"].as<std::string>());
  out.messages = messages(values);
  out.quiet = values["quiet"].as<bool>();
  out.html = !values["no-html"].as<bool>();
  out.pictures = values["pictures"].as<bool>();
  out.meshes = values["meshes"].as<bool>();
  out.paths = values["paths"].as<bool>();
  out.stock_files = values["stock-files"].as<bool>();
  if (values.count("stages")) {
    out.stages = values["stages"].as<std::string>();
    need_folder(out.stages, "--stages");
  }
  if (values.count("json")) {
    out.json = values["json"].as<std::string>();
    need_place_for(out.json, "--json", out.out);
  }
  return out;
}

namespace {

// Each part on one line, without control characters: names of files and words of programs cannot
// forge a message or steer the terminal.
Diagnostic printable(Diagnostic d) {
  for (std::string* part : {&d.place.file, &d.what, &d.why, &d.remedy, &d.excerpt})
    *part = text::printable(*part);
  return d;
}

}  // namespace

void print(const Diagnostics& diagnostics, bool quiet, bool notes, std::size_t most) {
  const bool colour = text::wants_colour(stderr);
  std::size_t told = 0, left_out = diagnostics.dropped();
  for (Severity level : {Severity::error, Severity::warning, Severity::note}) {
    if ((quiet && level != Severity::error) || (!notes && level == Severity::note)) break;
    for (const Diagnostic& d : diagnostics.all()) {
      if (d.severity != level) continue;
      if (told == most) {
        ++left_out;
        continue;
      }
      ++told;
      const text::Ink ink = level == Severity::error     ? text::Ink::red
                            : level == Severity::warning ? text::Ink::yellow
                                                         : text::Ink::plain;
      std::istringstream lines(to_text(printable(d)));
      bool first = true;
      for (std::string line; std::getline(lines, line); first = false) {
        std::fputs((text::inked(line, first ? ink : text::Ink::plain, colour) + "\n").c_str(),
                   stderr);
      }
    }
  }
  if (left_out != 0) {
    std::fputs(fmt::format("and {} more of these (--messages N tells more)\n", left_out).c_str(),
               stderr);
  }
}

namespace {

pipeline::StageStore stages_in(const std::filesystem::path& folder) {
  if (folder.empty()) return {};
  return {[folder](const std::string& name) -> std::optional<std::string> {
            // What is no whole file of a stage is as if it were not there: it is cut anew.
            Diagnostics ignored;
            return read_text_file(folder / name, "stage", ignored, std::uintmax_t{16} << 30);
          },
          [folder](const std::string& name, std::string_view bytes) {
            files::make_folder(folder);
            std::error_code ignored;
            const auto kind = std::filesystem::status(folder / name, ignored).type();
            if (kind != std::filesystem::file_type::not_found &&
                kind != std::filesystem::file_type::regular)
              throw files::WriteError("cannot write " + (folder / name).string() +
                                      ": something that is no file has this name");
            files::write_whole(folder / name, bytes);
          }};
}

}  // namespace

pipeline::RunOptions run_options_of(const SimulateOptions& options, bool keep_stock_after_setups) {
  pipeline::RunOptions out;
  out.voxel = options.voxel;
  out.threads = options.threads;
  out.material = options.material;
  out.keep_stock_after_setups = keep_stock_after_setups;
  return out;
}

std::optional<run::JobResult> run_job(const SimulateOptions& options,
                                      bool keep_stock_after_setups) {
  pipeline::PhaseClock clock;
  return run_job(options, keep_stock_after_setups, clock);
}

std::optional<run::JobResult> run_job(const SimulateOptions& options, bool keep_stock_after_setups,
                                      pipeline::PhaseClock& clock) {
  // What the readers say makes findings too: how much of it is told here takes none of those away.
  Diagnostics diagnostics(std::max(options.messages, default_messages));
  InputFiles files;
  const std::optional<job::Job> job = job::read_job(options.job, files, diagnostics);
  std::optional<run::JobResult> result;
  if (job) {
    keep_inputs(*job, options);
    need_folder(options.out, "--out");
    ProgressLine progress(!options.quiet);
    pipeline::RunOptions run_options = run_options_of(options, keep_stock_after_setups);
    use_no_more_threads_than(options.threads >= 0 ? options.threads : job->simulation.threads);
    run_options.files = files;
    run_options.stages = stages_in(options.stages);
    run_options.expected = [&](const pipeline::Forecast& needs) {
      // Short work needs no warning.
      if (options.quiet || (needs.seconds < 60 && needs.memory_mb < 4000)) return;
      progress.clear();
      std::fputs(("this will take " + text::needs_in_words(needs) + "\n").c_str(), stderr);
    };
    run_options.progress = [&](const std::string& what, double share) {
      progress.show(what, share);
      return !interrupted();
    };
    result = pipeline::dry_run(*job, run_options, diagnostics, clock);
    if (result)
      result->time_use = clock.time("where the time goes", [&] {
        return std::make_shared<const run::TimeUse>(after::time_use(*result));
      });
  }
  if (interrupted()) throw Interrupted();
  print(diagnostics, options.quiet || options.json == "-", options.notes, options.messages);
  return result;
}

Status judged(const run::JobResult& result, const std::optional<Severity>& fail_on) {
  if (!fail_on) return ran;
  const bool any = std::any_of(result.findings.begin(), result.findings.end(),
                               [&](const Finding& f) { return f.level >= *fail_on; });
  return any ? found : ran;
}

void write_text(const std::string& target, const std::string& text) {
  if (target == "-") {
    tell(text);
    if (const std::string why = output_failure(); !why.empty()) throw files::WriteError(why);
  } else {
    files::write_whole(target, text);
  }
}

}  // namespace proveout::cli
