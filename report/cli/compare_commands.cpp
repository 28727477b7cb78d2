// compare and check: results side by side, and a new result against a kept one.
#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "parser/base/text_file.h"
#include "report/cli/commands.h"
#include "report/cli/folder_check.h"
#include "report/cli/input_guard.h"
#include "report/cli/output_place.h"
#include "report/cli/page_beside.h"
#include "report/cli/standard_output.h"
#include "report/cli/written_results.h"
#include "report/compare/compare.h"
#include "report/files/atomic_file.h"
#include "report/files/output_names.h"
#include "report/json/result_json.h"
#include "report/page/build/page_tables.h"
#include "report/text/terminal.h"
#include "report/text/words.h"

namespace proveout::cli {

namespace po = boost::program_options;

namespace {

// "faulty" for .../faulty/result.json, else the file's name.
std::string column_name(const std::filesystem::path& path) {
  const std::string folder = path.parent_path().filename().string();
  return path.filename() == "result.json" && !folder.empty() ? folder : path.stem().string();
}

// As an option's help shows it: shares are given with few digits.
std::string short_form(double share) { return fmt::format("{:g}", share); }

// Options of a folder's check; those of each job are handed on as they are.
FolderCheck folder_check(const po::variables_map& values, const std::string& folder) {
  FolderCheck out;
  out.folder = folder;
  if (values.count("baseline"))
    throw UsageError("of a folder each job has its baseline beside it: NAME.baseline.json");
  if (values.count("json")) throw UsageError("--json is for one job; a folder's is summary.json");
  out.out = values.count("out") ? std::filesystem::path(values["out"].as<std::string>())
                                : std::filesystem::path(folder) / "check-out";
  need_folder(out.out, "--out");
  out.accept = values["accept"].as<bool>();
  out.resume = values["resume"].as<bool>();
  out.quiet = values["quiet"].as<bool>();
  if (values.count("at-once")) out.at_once = values["at-once"].as<int>();
  if (out.at_once < 0 || out.at_once > 4096)
    throw UsageError("--at-once takes a number from 0 to 4096");
  if (values.count("shard")) {
    const std::string text = values["shard"].as<std::string>();
    char rest = 0;
    if (std::sscanf(text.c_str(), "%d/%d%c", &out.shard.index, &out.shard.count, &rest) != 2 ||
        out.shard.count < 1 || out.shard.count > 100000 || out.shard.index < 1 ||
        out.shard.index > out.shard.count)
      throw UsageError("--shard takes I/N, I from 1 to N");
  }
  for (const char* name : {"time-share", "removed-share", "load-share"})
    out.passed_on.insert(out.passed_on.end(),
                         {fmt::format("--{}", name), fmt::format("{}", values[name].as<double>())});
  if (values.count("voxel"))
    out.passed_on.insert(out.passed_on.end(),
                         {"--voxel", fmt::format("{}", values["voxel"].as<double>())});
  for (const char* name : {"material", "fail-on"}) {
    if (values.count(name))
      out.passed_on.insert(out.passed_on.end(),
                           {fmt::format("--{}", name), values[name].as<std::string>()});
  }
  for (const char* name : {"no-html", "pictures", "meshes", "stock-files", "paths"}) {
    if (values[name].as<bool>()) out.passed_on.push_back(fmt::format("--{}", name));
  }
  return out;
}

// An accepted result takes the place of an earlier one, of whatever schema, or of nothing: not of a
// program or notes whose name was given by mistake.
void need_result_or_nothing(const std::string& baseline) {
  std::error_code not_there;
  if (!std::filesystem::is_regular_file(baseline, not_there)) return;
  Diagnostics unsaid;
  const auto text =
      read_text_file(baseline, "baseline", unsaid, std::uintmax_t{1} << 30).value_or("");
  const auto json = nlohmann::ordered_json::parse(text, nullptr, false);
  const auto schema = json.is_object() ? json.find("schema") : json.end();
  if (json.is_object() && schema != json.end() && schema->is_string() &&
      schema->get<std::string>().starts_with("proveout-result/"))
    return;
  throw UsageError(fmt::format(
      "--accept would write over {}, which is no result: name another place", baseline));
}

// The first result's page with the others beside it; where it has none, the tables alone.
std::string comparison_page(const std::vector<std::string>& paths,
                            const std::vector<compare::NamedResult>& results,
                            const compare::Comparison& c, Diagnostics& diagnostics) {
  if (!page::page_built_in()) return compare::to_html(c);
  std::vector<page::OtherPage> pages;
  for (std::size_t i = 0; i < results.size(); ++i)
    pages.push_back(page_beside(paths[i], results[i], diagnostics));
  if (!pages.front().data) return compare::to_html(c);
  page::PackedData first = std::move(*pages.front().data);
  pages.erase(pages.begin());
  first.about["comparisons"] = page::side_by_side(c);
  return page::page_html(first, pages);
}

}  // namespace

Status gather_command(const Arguments& arguments) {
  po::options_description options;
  options.add_options()("out,o", po::value<std::string>()->value_name("DIR"),
                        "write the whole summary.json and junit.xml there");
  const auto values = parse(arguments, options, {"SUMMARY.json", "..."},
                            "usage: proveout gather SUMMARY.json... [options]\n\n"
                            "The summaries of all shards of a folder's check as one.");
  if (!values) return ran;
  const auto paths = (*values)["SUMMARY.json"].as<std::vector<std::string>>();
  if (values->count("out")) {
    const std::filesystem::path out = (*values)["out"].as<std::string>();
    need_folder(out, "--out");
    keep_inputs({paths.begin(), paths.end()}, out / "summary.json", "--out");
  }
  Diagnostics diagnostics;
  const auto summary = merge_summaries(paths, diagnostics);
  print(diagnostics);
  if (!summary) return unusable_input;
  if (values->count("out")) {
    const std::filesystem::path out = (*values)["out"].as<std::string>();
    files::make_folder(out);
    write_summary(*summary, out);
  }
  std::fputs(summary_text(*summary).c_str(), stdout);
  return summary_status(*summary);
}

Status compare_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("json", po::value<std::string>()->value_name("FILE"),
      "write the comparison as JSON; - is standard output");
  add("html", po::value<std::string>()->value_name("FILE"),
      "write the comparison as a page, with the pictures of the report.html beside each result");
  const auto values =
      parse(arguments, options, {"RESULT.json", "..."},
            "usage: proveout compare RESULT.json RESULT.json... [options]\n\n"
            "Shows results side by side; the first is what the others are held against.");
  if (!values) return ran;
  const auto paths = (*values)["RESULT.json"].as<std::vector<std::string>>();
  if (paths.size() < 2) throw UsageError("compare needs at least two results");
  const std::string json = output_file(*values, "json"), html = output_file(*values, "html");
  std::vector<std::filesystem::path> inputs(paths.begin(), paths.end());
  for (const auto& p : paths) {
    for (const std::string_view name : {files::left_name, files::page_name})
      inputs.push_back(std::filesystem::path(p).replace_filename(name));
  }
  if (!json.empty() && json != "-") keep_inputs(inputs, json, "--json");
  if (!html.empty()) keep_inputs(inputs, html, "--html");
  Diagnostics diagnostics;
  std::vector<compare::NamedResult> results;
  for (const auto& p : paths) {
    if (auto r = compare::read_result(p, diagnostics))
      results.push_back({column_name(p), std::move(*r), compare::read_left(p, diagnostics)});
  }
  print(diagnostics);
  if (diagnostics.has_errors()) return unusable_input;
  const compare::Comparison c = compare::compare(results);
  if (!json.empty()) write_text(json, json::to_bytes(compare::to_json(c)));
  if (!html.empty()) {
    Diagnostics of_pages;
    files::write_whole(html, comparison_page(paths, results, c, of_pages));
    print(of_pages);
  }
  if (json != "-") std::fputs(compare::to_text(c).c_str(), stdout);
  return ran;
}

Status check_command(const Arguments& arguments) {
  po::options_description options;
  add_simulate_options(options);
  auto add = options.add_options();
  add("baseline", po::value<std::string>()->value_name("RESULT.json"),
      "the kept result to hold the new one against");
  add("accept", po::bool_switch(), "write the new result as the baseline, on purpose");
  compare::Tolerances t;
  add("time-share", po::value<double>()->default_value(t.time, short_form(t.time))->value_name("X"),
      "how far times may move");
  add("removed-share",
      po::value<double>()->default_value(t.removed, short_form(t.removed))->value_name("X"),
      "how far volumes may move");
  add("load-share", po::value<double>()->default_value(t.load, short_form(t.load))->value_name("X"),
      "how far peak loads may rise");
  add("shard", po::value<std::string>()->value_name("I/N"),
      "of a folder: only every Nth job, from the Ith on");
  add("at-once", po::value<int>()->value_name("N"),
      "of a folder: jobs at a time (default: one a core)");
  add("resume", po::bool_switch(),
      "of a folder: go on with a check that was ended; jobs it finished are not run again");
  const auto values =
      parse(arguments, options, {"JOB.toml"},
            "usage: proveout check JOB.toml --baseline RESULT.json [options]\n"
            "       proveout check FOLDER [options]\n\n"
            "Dry-runs the job and holds the result against a kept one. Exit status 1 where\n"
            "something moved further than allowed, or a finding reaches --fail-on. Of a\n"
            "FOLDER every job file NAME.toml is held against NAME.baseline.json beside it.");
  if (!values) return ran;
  for (const char* name : {"time-share", "removed-share", "load-share"}) {
    const double share = (*values)[name].as<double>();
    if (!(share >= 0 && share <= 10))
      throw UsageError(fmt::format("--{} takes a share from 0 to 10: 0.03 is 3 %", name));
  }
  const std::string what = (*values)["JOB.toml"].as<std::vector<std::string>>().front();
  std::error_code ignored;
  if (std::filesystem::is_directory(what, ignored))
    return check_folder(folder_check(*values, what));
  for (const char* name : {"shard", "at-once"}) {
    if (values->count(name)) throw UsageError(fmt::format("--{} is for a folder of jobs", name));
  }
  if ((*values)["resume"].as<bool>()) throw UsageError("--resume is for a folder of jobs");
  if (!values->count("baseline")) throw UsageError("check needs --baseline RESULT.json");
  SimulateOptions simulate = simulate_options(*values);
  const std::string baseline = (*values)["baseline"].as<std::string>();
  const bool accept = (*values)["accept"].as<bool>();
  t.time = (*values)["time-share"].as<double>();
  t.removed = (*values)["removed-share"].as<double>();
  t.load = (*values)["load-share"].as<double>();
  Diagnostics diagnostics;
  std::optional<nlohmann::ordered_json> kept;
  if (accept) {
    need_place_for(baseline, "--baseline", simulate.out);
    need_result_or_nothing(baseline);
    simulate.accepted = baseline;
  } else {
    if (!std::filesystem::exists(baseline, ignored) && !ignored)
      throw UsageError(fmt::format(
          "there is no baseline {}: --accept makes it of this run's result, on purpose", baseline));
    simulate.also_read.emplace_back(baseline);
    kept = compare::read_result(baseline, diagnostics);
    print(diagnostics);
    if (!kept) return unusable_input;
  }
  const auto result = run_job(simulate, simulate.needs_stock_after_setups());
  if (!result) return unusable_input;
  write_results(*result, simulate);
  const auto now = json::result_json(*result);
  if (accept) {
    if (!simulate.quiet)
      tell("The baseline {} now holds this result.\n", text::printable(baseline));
    return judged(*result, simulate.fail_on);
  }
  const auto moved = compare::drift(*kept, now, t);
  if (!simulate.quiet && simulate.json != "-") {
    const std::string inputs = compare::in_words(compare::input_changes(*kept, now));
    std::fputs(text::wrapped(text::printable(inputs), 80, 0).c_str(), stdout);
    for (const auto& d : moved) {
      std::fputs(text::wrapped(
                     text::printable(d.unit.empty()
                                         ? d.what
                                         : fmt::format("{}: {:.4g} -> {:.4g} {} ({}{:.4g} allowed)",
                                                       d.what, d.kept, d.now, d.unit,
                                                       d.worse ? "up, " : "down, ", d.allowed)),
                     80, 0)
                     .c_str(),
                 stdout);
    }
    tell("{} moved against {}.\n",
         moved.empty()       ? "Nothing that is held"
         : moved.size() == 1 ? "1 figure"
                             : fmt::format("{} figures", moved.size()),
         text::printable(baseline));
  }
  return !moved.empty() ? found : judged(*result, simulate.fail_on);
}

}  // namespace proveout::cli
