// retime and quote: what a dry run tells about another material and about money.
#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "parser/job/program_reading.h"
#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/interrupt.h"
#include "report/cli/output_place.h"
#include "report/cli/standard_output.h"
#include "report/cli/written_results.h"
#include "report/files/atomic_file.h"
#include "report/files/output_names.h"
#include "report/json/result_json.h"
#include "report/text/words.h"
#include "sim/after/quote.h"
#include "sim/after/retime.h"
#include "sim/after/rewrite.h"
#include "sim/run/inputs.h"
#include "sim/timing/plan.h"

namespace proveout::cli {

namespace po = boost::program_options;
using Json = nlohmann::ordered_json;

namespace {

// result.json with one more section, in the output folder and where --json asks for it.
void write_with(const run::JobResult& result, const SimulateOptions& options, const char* key,
                Json section) {
  Json json = json::result_json(result);
  json[key] = std::move(section);
  const std::string text = json::to_bytes(json);
  files::make_folder(options.out);
  files::FileSet set(stop_if_interrupted);
  set.write(options.out / files::result_name, text);
  if (!options.json.empty() && options.json != "-") set.write(options.json, text);
  set.commit();
  if (options.json == "-") write_text("-", text);
}

// What the table does not say: what moves the price, and from which batch on one pays.
void print_quote_words(const after::Quote& q, double price) {
  std::string words = fmt::format(
      "'per part' is the break-even price: at it the batch earns nothing. Each further part costs "
      "{:.2f}; no batch gets below that. A part's programs take {:.0f} min, {:.0f} of them without "
      "a "
      "hand on the machine, and the operator {:.0f} min: tool changes by hand {:.0f}, handling "
      "{:.0f} "
      "(the machine stands), finishing {:.0f}. ",
      q.one_more, q.machine_min, q.unattended_min, q.attended_min, q.change_min, q.handling_min,
      q.attended_min - q.change_min - q.handling_min);
  const auto& last = q.prices.back();
  words += fmt::format("With the low and the high time, {:.2f} to {:.2f} a part at {}. ", last.low,
                       last.high, last.batch);
  words += fmt::format("At {}, 20 % more of each makes a part dearer by: ", last.batch);
  for (std::size_t i = 0; i < last.sensitivity.size() && last.sensitivity[i].more > 0.005; ++i)
    words += fmt::format("{}{} {:.2f}", i == 0 ? "" : ", ", last.sensitivity[i].what,
                         last.sensitivity[i].more);
  words += ". Times are estimates.";
  std::fputs(text::wrapped(words, 80, 0).c_str(), stdout);
  if (!(price > 0)) return;
  const auto from = q.break_even_batch(price);
  tell("{}\n", from ? fmt::format("At {:.2f} a part, batches pay from {} on.", price, *from)
                    : fmt::format("At {:.2f} a part, no batch pays.", price));
}

// The programs with the new words, none of them written yet, and how long the machine takes for
// each. nullopt with errors: one of them cannot be rewritten.
struct NewPrograms {
  std::vector<std::string> texts;
  std::vector<double> time_s;  // one pass
};
std::optional<NewPrograms> new_programs(const run::JobResult& result, const after::Retimed& retimed,
                                        Diagnostics& diagnostics) {
  NewPrograms out;
  for (std::size_t i = 0; i < result.setups.size(); ++i) {
    const job::Setup& setup = result.job.setups[i];
    const std::string& text = *result.inputs->setups[i].texts.front();
    const nc::Program& program = *result.setups[i].source;
    const auto made =
        after::rewrite(text, setup.program.string(), job::program_reading(result.job, &setup),
                       program, {retimed.setups[i].feed, retimed.setups[i].rpm}, diagnostics);
    if (!made) continue;
    nc::Program as_written = program;
    for (std::size_t k = 0; k < as_written.motions.size(); ++k)
      as_written.motions[k].feed = made->feed[k];
    out.texts.push_back(made->text);
    out.time_s.push_back(timing::plan(as_written, result.job.machine).time_s);
  }
  if (diagnostics.has_errors()) return std::nullopt;
  return out;
}

// All programs or none get their names.
void write_programs(const run::JobResult& result, const NewPrograms& programs,
                    const std::filesystem::path& folder) {
  const std::vector<std::string> names = names_of_programs(result.job);
  const std::vector<std::filesystem::path> inputs = inputs_of(result.job);
  for (const std::string& name : names) keep_inputs(inputs, folder / name, "--write-programs");
  files::make_folder(folder);
  files::FileSet set(stop_if_interrupted);
  for (std::size_t i = 0; i < programs.texts.size(); ++i)
    set.write(folder / names[i], programs.texts[i]);
  set.commit();
}

}  // namespace

Status retime_command(const Arguments& arguments) {
  po::options_description options;
  add_simulate_options(options);
  options.add_options()("write-programs", po::value<std::string>()->value_name("DIR"),
                        "write the programs with the new F and S words there");
  options.add_options()("faster", po::bool_switch(),
                        "in the job's own material, at the same spindle speeds: feeds rise up to "
                        "what binds, none is lowered");
  const auto values =
      parse(arguments, options, {"JOB.toml"},
            "usage: proveout retime JOB.toml --material NAME [options]\n"
            "       proveout retime JOB.toml --faster [options]\n\n"
            "The same toolpaths in another material: the feed each move may have, and\nthe time. "
            "With --faster in the same: what higher feeds would save.");
  if (!values) return ran;
  SimulateOptions simulate = simulate_options(*values);
  const bool faster = (*values)["faster"].as<bool>();
  if (simulate.material.empty() != faster)
    throw UsageError("retime needs --material NAME, or --faster alone");
  if (values->count("write-programs"))
    need_folder((*values)["write-programs"].as<std::string>(), "--write-programs");
  std::string wanted = std::exchange(simulate.material, "");
  const auto result = run_job(simulate);
  if (!result) return unusable_input;
  if (faster) wanted = result->material;
  const auto material = cutting::find_material(wanted, result->job.materials);
  if (!material || !material->cuttable)
    throw UsageError(fmt::format("there is no material '{}'", wanted));
  const after::Retimed retimed =
      faster ? after::retime_faster(*result) : after::retime(*result, *material);
  Json section = {{"material", wanted},
                  {"time_s", json::rounded(retimed.time_s)},
                  {"own_time_s", json::rounded(retimed.own_time_s)},
                  {"bound_s", Json::object()},
                  {"setups", Json::array()}};
  for (std::size_t i = 0; i < retimed.bound_s.size(); ++i) {
    section["bound_s"][std::string(after::name(static_cast<after::Binding>(i)))] =
        json::rounded(retimed.bound_s[i]);
  }
  std::optional<NewPrograms> programs;
  if (values->count("write-programs")) {
    Diagnostics diagnostics;
    programs = new_programs(*result, retimed, diagnostics);
    print(diagnostics);
    if (!programs) return unusable_input;
  }
  for (std::size_t i = 0; i < retimed.setups.size(); ++i) {
    const auto& s = retimed.setups[i];
    section["setups"].push_back({{"name", s.name},
                                 {"time_s", json::rounded(s.time_s)},
                                 {"extra_passes_s", json::rounded(s.extra_passes_s)},
                                 {"motions_with_passes", s.motions_with_passes}});
    if (programs) section["setups"].back()["written_s"] = json::rounded(programs->time_s[i]);
  }
  if (programs) write_programs(*result, *programs, (*values)["write-programs"].as<std::string>());
  write_with(*result, simulate, "retime", std::move(section));
  if (simulate.quiet || simulate.json == "-") return ran;
  tell("The same paths in {}: {} instead of {} in {}, {:.2f} times as long (an estimate)\n",
       text::printable(wanted), text::duration(retimed.time_s), text::duration(retimed.own_time_s),
       text::printable(result->material),
       retimed.own_time_s > 0 ? retimed.time_s / retimed.own_time_s : 0);
  for (std::size_t i = 0; i < retimed.setups.size(); ++i) {
    const auto& s = retimed.setups[i];
    tell("  setup {}: {}, and {} for further passes on {} motions\n", text::printable(s.name),
         text::duration(s.time_s), text::duration(s.extra_passes_s), s.motions_with_passes);
    if (programs)
      tell("    as written, read back and held against the plan: {}\n",
           text::duration(programs->time_s[i]));
  }
  tell("What binds the feed, by time:\n");
  for (std::size_t i = 0; i < retimed.bound_s.size(); ++i) {
    if (retimed.bound_s[i] < 0.5) continue;
    tell("  {} {}\n", text::left(std::string(after::name(static_cast<after::Binding>(i))), 22),
         text::duration(retimed.bound_s[i]));
  }
  const char* const caution =
      faster ? "These are limits of common practice and of rough models: raise feeds in steps, "
               "listen, and measure."
             : "A proof in another material does not show force, heat, chatter or how the supports "
               "hold.";
  std::fputs(
      text::wrapped(
          "Figures of " + text::printable(wanted) + ": " + material->source + ". " + caution, 80, 0)
          .c_str(),
      stdout);
  return ran;
}

Status quote_command(const Arguments& arguments) {
  po::options_description options;
  add_simulate_options(options);
  options.add_options()("price", po::value<double>()->value_name("MONEY"),
                        "a price per part: from which batch on it pays");
  const auto values = parse(arguments, options, {"JOB.toml"},
                            "usage: proveout quote JOB.toml [options]\n\nCost per part in batches, "
                            "from the simulated time.");
  if (!values) return ran;
  const SimulateOptions simulate = simulate_options(*values);
  const double price = values->count("price") ? (*values)["price"].as<double>() : 0;
  if (values->count("price") && !(price > 0 && std::isfinite(price)))
    throw UsageError("--price takes money above 0");
  const auto result = run_job(simulate);
  if (!result) return unusable_input;
  if (!result->job.quote) throw UsageError("the job has no [quote]");
  const after::Quote q = after::quote(*result->job.quote, *result);
  Json section = {{"machine_min", json::rounded(q.machine_min)},
                  {"change_min", json::rounded(q.change_min)},
                  {"handling_min", json::rounded(q.handling_min)},
                  {"attended_min", json::rounded(q.attended_min)},
                  {"unattended_min", json::rounded(q.unattended_min)},
                  {"per_20_percent_time", json::rounded(q.price_per_20_percent_time)},
                  {"set_up_cost", json::rounded(q.set_up_cost)},
                  {"one_more", json::rounded(q.one_more)},
                  {"batches", Json::array()},
                  {"tools", Json::array()}};
  if (price > 0) {
    const auto from = q.break_even_batch(price);
    section["price"] = json::rounded(price);
    section["break_even_batch"] = from ? Json(*from) : Json(nullptr);
  }
  for (const auto& p : q.prices) {
    Json sensitivity = Json::array();
    for (const auto& s : p.sensitivity)
      sensitivity.push_back({{"what", s.what}, {"per_20_percent", json::rounded(s.more)}});
    Json batch = {{"batch", p.batch}, {"per_part", json::rounded(p.terms.sum())}};
    for (std::size_t k = 0; k < p.terms.money.size(); ++k)
      batch[std::string(after::cost_items()[k].key)] = json::rounded(p.terms.money[k]);
    batch.update({{"per_part_low", json::rounded(p.low)},
                  {"per_part_high", json::rounded(p.high)},
                  {"hours", json::rounded(p.hours)},
                  {"attended_hours", json::rounded(p.attended_hours)},
                  {"dominating", p.dominating},
                  {"sensitivity", sensitivity}});
    section["batches"].push_back(std::move(batch));
  }
  for (const auto& w : q.wear) {
    section["tools"].push_back({{"number", w.number},
                                {"minutes_in_cut", json::rounded(w.minutes_in_cut)},
                                {"parts_per_tool", json::rounded(w.parts_per_tool)}});
  }
  write_with(*result, simulate, "quote", std::move(section));
  if (simulate.quiet || simulate.json == "-") return ran;
  tell("{:>5}{:>10}", "batch", "per part");
  for (const after::CostItem& item : after::cost_items()) tell("{:>{}}", item.heading, item.width);
  tell("\n");
  for (const auto& p : q.prices) {
    tell("{:>5}{:>10.2f}", p.batch, p.terms.sum());
    for (std::size_t k = 0; k < p.terms.money.size(); ++k)
      tell("{:>{}.2f}", p.terms.money[k], after::cost_items()[k].width);
    tell("\n");
  }
  const auto& last = q.prices.back();
  std::fputs(
      text::wrapped(
          fmt::format("At {} the largest term is {}; the batch takes the machine {:.1f} hours, "
                      "the operator {:.1f}.",
                      last.batch, last.dominating, last.hours, last.attended_hours),
          80, 0)
          .c_str(),
      stdout);
  print_quote_words(q, price);
  return ran;
}

}  // namespace proveout::cli
